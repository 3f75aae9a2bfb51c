"""What is wrong with a unit's files: every fault of all of them, gathered in one run."""

from pathlib import Path

MOST_TOLD = 50


class UnitError(Exception):
    """A unit's files cannot be used; each of `messages` is a fault: file, line, what is wrong, how to mend it."""

    def __init__(self, *messages: str):
        self.messages = messages
        super().__init__(*messages)

    def __str__(self) -> str:
        more = len(self.messages) - MOST_TOLD
        return "\n".join([*self.messages[:MOST_TOLD], *([f"and {more} more faults"] if more > 0 else [])])

    @property
    def in_short(self) -> str:
        """The first fault, and how many more there are, on one line."""
        more = len(self.messages) - 1
        return self.messages[0] + (f" (and {more} more fault{'s' if more > 1 else ''})" if more > 0 else "")


class Faults:
    """The faults of one file, in any order; `told` gives them by line."""

    def __init__(self, path: Path):
        self.path = path
        self._found: list[tuple[int, str]] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, line: int, message: str) -> None:
        """One fault: `what is wrong: how to mend it`, with the column or key before it."""
        self._found.append((line, message))

    def told(self) -> list[str]:
        """One message a fault, in the order of the file's lines, none twice."""
        ordered = sorted(dict.fromkeys(self._found), key=lambda found: found[0])
        return [f"{self.path}:{line}: {message}" for line, message in ordered]


def raise_if_any(*files: Faults) -> None:
    """Raise UnitError with every fault of the files, in their order."""
    if messages := [message for faults in files for message in faults.told()]:
        raise UnitError(*messages)
