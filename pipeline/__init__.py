"""Tubewright: a catalogue of tube and component ratings, and the checks that join a unit's parts list to it."""

__version__ = "0.1.0"
