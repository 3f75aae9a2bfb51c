"""The build wing: raw CSV to read, normalise, reconcile, audit, write."""
