"""The unit's operating point: every volt and ampere of the unit, worked out once, readings first."""
