"""What the shell is offered when a word is completed: types, refs, roles, words of the catalogue."""

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import typer

ASKED_BY = "_TUBEWRIGHT_COMPLETE"
"""The environment variable by which a shell's script asks."""
MOST = 60
"""Names offered at once."""
Offer = tuple[str, str]
"""A word, and what is said of it where the shell shows that."""


def asked() -> bool:
    """Whether a shell asks for completion, not a person for a command."""
    return ASKED_BY in os.environ


def script(shell: str) -> str:
    """What a shell reads to complete our commands; raises ValueError for a shell that is not known."""
    from typer.completion import Shells, get_completion_script

    if shell not in [known.value for known in Shells]:
        raise ValueError(f"{shell}: no such shell is known: give bash, zsh, fish or powershell")
    return get_completion_script(prog_name="tubewright", complete_var=ASKED_BY, shell=shell)


def types(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Names of tubes that begin as typed, whatever the case, with what each is."""
    rows = _rows(ctx, _TYPES, [incomplete.upper().replace("-", "").replace(" ", "") + "%"])
    return [(incomplete + name[len(incomplete):], what or "") for name, what in rows
            if name.upper().startswith(incomplete.upper())]


_TYPES = f"""
select name, any_value(what) from (
  select type as name, type as key, function as what, 0 as rank from {{tubes}}
  union all select designation, normal, 'a ' || type || case nearness when 'near' then ', nearly' else '' end, 1
  from {{designations}})
where upper(key) like ? group by name order by min(rank), name limit {MOST}
"""


def functions(ctx: typer.Context, incomplete: str) -> list[str]:
    """Functions of tubes that begin as typed."""
    return _begin(incomplete, (row[0] for row in _rows(ctx, "select distinct function from {tubes} order by 1")))


def bases(ctx: typer.Context, incomplete: str) -> list[str]:
    """Bases that begin as typed."""
    return _begin(incomplete, (row[0] for row in _rows(ctx, "select distinct base from {tubes} order by 1")))


def sources(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Documents whose id begins as typed, with their titles."""
    rows = _rows(ctx, "select source_id, title from {sources} order by 1")
    return [(id_, title) for id_, title in rows if id_.startswith(incomplete)]


def roles(incomplete: str) -> list[str]:
    """Roles that begin as typed."""
    from pipeline.notation.roles import ROLES

    return _begin(incomplete, ROLES)


def ways(incomplete: str) -> list[str]:
    """What a set may be brought up with."""
    from pipeline.bench.bringup import WAYS

    return _begin(incomplete, WAYS)


def tables(incomplete: str) -> list[Offer]:
    """Raw tables that begin as typed, with what they hold."""
    from schemas.tables import TABLES

    return [(name, table.meaning) for name, table in TABLES.items() if name.startswith(incomplete)]


def tube_refs(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Refs of the unit's tubes that begin as typed, with their markings."""
    parts = list(_parts(ctx.params.get("unit")))
    tubes = [(ref, marking) for ref, marking in parts if ref.upper().startswith("V")] or parts
    return [(ref, marking) for ref, marking in tubes if ref.startswith(incomplete)]


def _parts(unit: Any) -> Iterator[Offer]:
    """Ref and marking of each part of the unit, as far as its file can be read."""
    import csv

    try:
        with Path(unit, "parts.csv").open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                yield row.get("ref") or "", row.get("marking") or ""
    except (OSError, TypeError, UnicodeDecodeError, csv.Error):
        return


def _rows(ctx: typer.Context, sql: str, values: Iterable[Any] = ()) -> list[tuple]:
    """Rows of the catalogue the command would read, none where there is none."""
    from pipeline.catalogue import Catalogue, CatalogueError

    folder = ctx.params.get("catalogue") or ctx.params.get("out")
    try:
        return Catalogue(Path(folder) if folder else None).query(sql, list(values))
    except CatalogueError:
        return []


def _begin(incomplete: str, words: Iterable[str | None]) -> list[str]:
    """Words that begin as typed; bash is given blanks that stay in one word."""
    found = [word for word in words if word and word.lower().startswith(incomplete.lower())]
    as_typed = [incomplete + word[len(incomplete):] for word in found]
    return [word.replace(" ", "\\ ") for word in as_typed] if os.environ.get(ASKED_BY) == "complete_bash" else as_typed


