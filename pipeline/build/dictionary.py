"""The data dictionary: every built table and column in words, and the rules for raw rows, as Markdown."""

from collections.abc import Iterator

from pipeline.build.rules import handbook
from schemas.built import BUILT, DATA_VERSION, Built
from schemas.columns import Column


def dictionary() -> str:
    """The whole data dictionary as Markdown."""
    return "\n".join([
        "# Data dictionary", "", f"Version {DATA_VERSION} of the tables, made by `tubewright dictionary`. "
        "Why a cell is empty, not known, not stated or not applicable, stands in the table `gaps`.", "",
        *(line for built in BUILT.values() for line in _table(built)),
        "## Rules for raw rows", "", "`tubewright build` names every row that breaks one, by these ids.", "",
        *handbook()])


def _table(built: Built) -> Iterator[str]:
    yield from (f"## {built.name}", "", f"{built.meaning[0].upper()}{built.meaning[1:]}. "
                f"Key: {', '.join(f'`{k}`' for k in built.key)}. Licence: {built.licence}.", "")
    yield from ("| column | kind | unit | range or words | meaning |", "| --- | --- | --- | --- | --- |")
    targets = {link.column: f"`{link.table}.{link.target}`" for link in built.links}
    for column in built.columns:
        yield "| " + " | ".join(_cell(x) for x in _row(column, column.name in built.required, targets)) + " |"
    yield ""


def _row(column: Column, required: bool, targets: dict[str, str]) -> Iterator[str]:
    yield f"`{column.name}`" + (" *" if required else "")
    yield column.kind
    yield column.unit or ""
    yield ", ".join(column.choices) or ("" if column.low is None else f"{column.low:g} to {column.high:g}")
    yield column.meaning + (f"; names a row of {targets[column.name]}" if column.name in targets else "") \
        + (f"; as `{column.example}`" if column.example else "")


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
