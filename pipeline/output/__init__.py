"""How findings, ratings and lists are shown."""
