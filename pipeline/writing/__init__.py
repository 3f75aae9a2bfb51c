"""Everything that is put on a disk: whole files, whole folders, one writer at a time."""
