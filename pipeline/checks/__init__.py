"""Findings about a unit: each check asks `electrics` and gives findings with their evidence."""
