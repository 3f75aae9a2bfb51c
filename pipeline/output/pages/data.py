"""The tables to take away: Parquet, one archive of CSV, checksums, the dictionary in words, licence and citation."""

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from typing import Any, NamedTuple

from pipeline.output.pages.known import Known, Row
from pipeline.output.safe import Markup

ARCHIVE = "data/tubewright-csv.zip"
_WHEN = (1980, 1, 1, 0, 0, 0)
"""One time for every part, so that the same catalogue gives the same bytes."""


class File(NamedTuple):
    """A file to take away: its path in the folder, its bytes, sha256."""

    path: str
    size: int
    sha256: str


class Table(NamedTuple):
    """One table of the catalogue in words: its columns as (name, kind, unit, meaning), key and licence."""

    name: str
    title: str
    meaning: str
    rows: int
    key: str
    licence: str
    columns: list[tuple[str, str, str, str]]
    file: File | None


def data_files(known: Known, csv: Mapping[str, bytes]) -> dict[str, bytes]:
    """Path → bytes of what is offered: the built catalogue as it is, and the tables as one archive of CSV."""
    folder = known.catalogue.folder
    names = [r["path"] for r in known.package["resources"]] + ["datapackage.json"]
    files = {f"data/{name}": (folder / name).read_bytes() for name in names}
    files[ARCHIVE] = archive(csv)
    sums = "".join(f"{hashlib.sha256(data).hexdigest()}  {path.removeprefix('data/')}\n"
                   for path, data in sorted(files.items()))
    return files | {"data/SHA256SUMS": sums.encode()}


def archive(files: Mapping[str, bytes]) -> bytes:
    """A zip archive of the files, the same bytes each time."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, data in files.items():
            info = zipfile.ZipInfo(f"tubewright/{name}", _WHEN)
            info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            made.writestr(info, data)
    return out.getvalue()


def listed(files: Mapping[str, bytes]) -> dict[str, File]:
    """Path → the file with its size and checksum."""
    return {path: File(path, len(data), hashlib.sha256(data).hexdigest()) for path, data in files.items()}


def tables(known: Known, files: Mapping[str, File]) -> list[Table]:
    """Every table of the catalogue, in its order."""
    return [Table(r["name"], r.get("title", r["name"]), r.get("description", ""), r["rowCount"],
                  ", ".join(known.key(r["name"])), ", ".join(licence["name"] for licence in r.get("licenses", ())),
                  [_column(f) for f in r["schema"]["fields"]], files.get(f"data/{r['path']}"))
            for r in known.package["resources"]]


def _column(field: Row) -> tuple[str, str, str, str]:
    span = field.get("plausible", {})
    said = [field.get("description", "")]
    if span:
        said.append(f"{span['minimum']:g} to {span['maximum']:g}")
    if words := field.get("constraints", {}).get("enum"):
        said.append("one of: " + ", ".join(map(str, words)))
    unit = field.get("unit", "")
    return field["name"], field["type"], "" if unit == "1" else unit, "; ".join(x for x in said if x)


def content_hash(known: Known) -> str:
    """One hash for the content of all tables, which a new writer of Parquet does not change."""
    said = "".join(f"{r['name']} {r['contentHash']}\n" for r in known.package["resources"])
    return hashlib.sha256(said.encode()).hexdigest()


def citation(known: Known) -> str:
    return (f"Tubewright contributors, Tubewright: tube and component ratings with their sources, version "
            f"{known.package['version']}, content {content_hash(known)[:16]}.")


def described(known: Known, files: Mapping[str, File], address: str) -> Markup:
    """The catalogue as a schema.org Dataset, for inside a script element."""
    package = known.package
    formats = {ARCHIVE: "application/zip"} | {p: "application/vnd.apache.parquet" for p in files
                                             if p.endswith(".parquet")}
    found: dict[str, Any] = {
        "@context": "https://schema.org", "@type": "Dataset", "name": package["title"],
        "description": package["description"], "version": package["version"], "keywords": package["keywords"],
        "license": [licence["path"] for licence in package["licenses"]], "isAccessibleForFree": True,
        "creator": {"@type": "Organization", "name": "Tubewright contributors"}, "citation": citation(known),
        "variableMeasured": [{"@type": "PropertyValue", "name": f["name"], "unitText": f["unit"]}
                             for f in known.fields["sections"].values() if f.get("unit", "1") != "1"],
        "distribution": [{"@type": "DataDownload", "contentUrl": address + p, "encodingFormat": formats[p],
                          "contentSize": str(files[p].size), "sha256": files[p].sha256} for p in formats]}
    if address:
        found["url"] = address
    return Markup(json.dumps(found, ensure_ascii=False, sort_keys=True).replace("<", "\\u003c"))
