"""`datapackage.json`: the built tables described after the Data Package standard, version 2.

Title, units, labelled missing values, keys, links, sources and licences all come from `schemas/` and the tables
themselves; there is no clock and no host in it.
"""

import hashlib
import json
from typing import Any

import pyarrow as pa

from schemas.built import BUILT, DATA_CREATED, DATA_VERSION, Built
from schemas.columns import Column
from schemas.tables import CC0, SHARE_ALIKE
from schemas.words import GAPS

PACKAGE = "datapackage.json"
_PROFILES = "https://datapackage.org/profiles/2.0"
_KINDS = {"text": "string", "number": "number", "integer": "integer", "boolean": "boolean"}
_EMPTY = "not stated in the source"
_MISSING = {
    **dict.fromkeys(("figures", "disagreements"), "not stated in the source, or no unit: a word has none"),
    **dict.fromkeys(("sources", "corrections"), _EMPTY), "releases": "does not apply: the count says it",
    "pins": "does not apply: the tube has one section"}
"""Built table → what its empty cells mean; of the open tables not stated, of the others as `gaps` says."""
_AT_ONCE = 20_000
_CONTRIBUTORS = [{"title": "Tubewright contributors", "roles": ["creator", "maintainer"]}]
_LICENCES = {
    CC0: {"name": CC0, "path": "https://creativecommons.org/publicdomain/zero/1.0/", "title": "CC0 1.0 Universal"},
    SHARE_ALIKE: {"name": SHARE_ALIKE, "path": "https://creativecommons.org/licenses/by-sa/4.0/",
                  "title": "CC BY-SA 4.0 with the KiCad libraries' exception for designs; "
                           "from the symbol libraries of the KiCad community"},
}
_MADE_OF = {"pins": ("basings", "tube_pins")}
"""Built table → raw tables of `figures` it is made of, where the names differ."""
_SUFFIXES = {"v", "a", "w", "s", "ohm", "uf", "pct", "hz", "c"}


def described(tables: dict[str, pa.Table], hashes: dict[str, str]) -> dict[str, Any]:
    """The package's description; `hashes` gives the SHA-256 of each file.

    No `bytes`: the usual validator cannot count those of a Parquet file and would call every table wrong.
    """
    sources = {row["source_id"]: _source(row) for row in tables["sources"].to_pylist()}
    told = _told(tables["figures"]) if "figures" in tables else {}
    resources = [_resource(BUILT[name], table, hashes[f"{name}.parquet"], _sources_of(name, tables, sources, told))
                 for name, table in tables.items()]
    return {
        "$schema": f"{_PROFILES}/datapackage.json",
        "name": "tubewright", "title": "Tubewright: tube and component ratings, every figure with its source",
        "description": "Ratings of vacuum tubes, rectifiers and the parts around them. `figures` holds every "
                       "observation with its source and grade of evidence; the other tables hold the best of them.",
        "version": DATA_VERSION, "created": f"{DATA_CREATED}T00:00:00Z", "contentHash": _whole(resources),
        "contributors": _CONTRIBUTORS,
        "keywords": ["vacuum tube", "valve", "electronics", "ratings", "restoration"],
        "licenses": [_LICENCES[CC0], _LICENCES[SHARE_ALIKE]],
        "sources": list(sources.values()),
        "resources": resources,
    }


def _whole(resources: list[dict[str, Any]]) -> str:
    """Hash of the content of all tables together, whatever wrote the files: it names this state of the catalogue."""
    lines = sorted(f"{r['name']} {r['contentHash']}\n" for r in resources)
    return "sha256:" + hashlib.sha256("".join(lines).encode()).hexdigest()


def as_text(package: dict[str, Any]) -> str:
    """The description as the file holds it."""
    return json.dumps(package, indent=1, ensure_ascii=False) + "\n"


def _source(row: dict[str, Any]) -> dict[str, str]:
    edition = ", ".join(x for x in (row["edition"], row["year"]) if x)
    return {"title": str(row["title"]), "id": str(row["source_id"])} | ({"version": edition} if edition else {}) \
        | {k: row[k] for k in ("publisher", "licence", "found_at") if row[k]}


def _told(figures: pa.Table) -> dict[str, set[str]]:
    """Table → ids of the documents its figures stand in."""
    told: dict[str, set[str]] = {}
    for batch in figures.select(["table", "source_id"]).to_batches(max_chunksize=_AT_ONCE):
        for of, source in zip(*(column.to_pylist() for column in batch.columns), strict=True):
            told.setdefault(of, set()).add(source)
    return told


def _sources_of(name: str, tables: dict[str, pa.Table], sources: dict[str, dict],
                told: dict[str, set[str]]) -> list[dict[str, str]]:
    """Title and id of every document that figures of the table stand in."""
    table = tables[name]
    if name == "sources":
        return []
    if name in ("disagreements", "open_disagreements"):
        ids = set(table["chosen_source"].to_pylist()) | set(table["other_source"].to_pylist())
    elif "source_id" in table.schema.names:
        ids = set(table["source_id"].unique().to_pylist())
    else:
        ids = {source for of in _MADE_OF.get(name, (name,)) for source in told.get(of, ())}
    return [{k: sources[i][k] for k in ("title", "id")} for i in sorted(ids & sources.keys())]


def _resource(built: Built, table: pa.Table, digest: str, sources: list[dict]) -> dict[str, Any]:
    return {
        "name": built.name, "type": "table", "path": f"{built.name}.parquet",
        "title": built.name.replace("_", " ").capitalize(), "description": built.meaning,
        "format": "parquet", "mediatype": "application/vnd.apache.parquet",
        "hash": "sha256:" + digest, "contentHash": "sha256:" + content_hash(table), "rowCount": table.num_rows,
        "licenses": [_LICENCES[built.licence]],
        **({"sources": sources} if sources else {}),
        "schema": _schema(built),
    }


def _schema(built: Built) -> dict[str, Any]:
    links = [{"fields": [link.column], "reference": {"resource": link.table, "fields": [link.target]}}
             for link in built.links]
    key = {"primaryKey": list(built.key)} if built.exact else {"uniqueKeys": [list(built.key)]}
    return {
        "$schema": f"{_PROFILES}/tableschema.json",
        "fields": [_field(column, built) for column in built.columns], "missingValues": _missing(built),
        **key, **({"foreignKeys": links} if links else {})}


def _missing(built: Built) -> list[dict[str, str]]:
    label = _MISSING.get(built.name) or (_EMPTY if built.licence != CC0 else
                                         f"{', '.join(GAPS[:-1])}, or {GAPS[-1]}: the table gaps says which")
    return [{"value": "", "label": label}]


def _field(column: Column, built: Built) -> dict[str, Any]:
    """The field; a range that cells may have is a constraint only where none is empty.

    The usual validator takes the empty cells of a Parquet file for numbers that lie outside; the CSV twins have
    it as a constraint everywhere.
    """
    span = {"minimum": column.low, "maximum": column.high} if column.low is not None else {}
    must = column.name in built.required
    limits = ({"required": True} | span if must else {}) | ({"enum": list(column.choices)} if column.choices else {})
    return {
        "name": column.name, "type": _KINDS[column.kind], "title": title(column), "description": column.meaning,
        **({"unit": column.unit} if column.unit else {}),
        **({"example": column.example} if column.example else {}),
        **({"constraints": limits} if limits else {}),
        **({"plausible": span} if span and not must else {})}


def title(column: Column) -> str:
    """The column's name in words, its unit in brackets: `heater_cathode_negative_max_v` → `heater cathode ... (V)`."""
    words = column.name.split("_")
    if column.unit is None or column.unit == "1":
        return " ".join(words)
    if len(words) > 1 and words[-1] in _SUFFIXES:
        words.pop()
    return f"{' '.join(words)} ({column.unit})"


def content_hash(table: pa.Table) -> str:
    """Hash of the rows as canonical text, whatever their order: it survives another Parquet writer.

    The sum of the rows' own hashes, modulo 2**256: no table need be sorted, or held as text as a whole.
    """
    total, encode = 0, json.JSONEncoder(sort_keys=True, ensure_ascii=False).encode
    for batch in table.to_batches(max_chunksize=_AT_ONCE):
        for row in batch.to_pylist():
            line = encode(row).encode()
            total += int.from_bytes(hashlib.sha256(line).digest(), "big")
    return f"{total % 2 ** 256:064x}"
