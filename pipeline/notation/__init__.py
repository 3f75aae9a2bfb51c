"""What is printed on a part, or written by a person, turned into values.

Standard library only.  `read.read` is the door; every other module reads one kind of text:
capacitors, resistors, tubes, small parts, roles, meter readings, type designations.
"""
