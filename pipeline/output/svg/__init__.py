"""Figures for paper and screen: pure functions that give SVG text (a base from below, heater budget, supply)."""
