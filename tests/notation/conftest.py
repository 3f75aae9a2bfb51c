"""A small catalogue for the readers: real names, no ratings."""

import pytest

from pipeline.notation.read import read

NAMES = {
    "6GW8": "6GW8", "ECL86": ("6GW8", "European"), "16A8": "16A8", "PCL82": ("16A8", "European"),
    "12AX7": "12AX7", "ECC83": ("12AX7", "European"), "12AT7": "12AT7", "CV455": ("12AT7", "British services"),
    "6267": "6267", "EF86": ("6267", "European"), "6SN7GT": "6SN7GT", "VT-231": ("6SN7GT", "US Army"),
    "6Н8С": ("6SN7GT", "Soviet"), "6П14П": ("6BQ5", "Soviet"), "6BQ5": "6BQ5", "EL84": ("6BQ5", "European"),
    "6P3S": ("6L6G", "Soviet"), "6L6G": "6L6G", "6L6": "6L6", "6V6GT": "6V6GT", "5U4G": "5U4G", "5AR4": "5AR4",
    "GZ34": ("5AR4", "European"), "0A2": "0A2", "VR150": ("0D3", "US"), "0D3": "0D3", "35/51": "35/51",
    "300B": "300B", "5751": "5751", "47": "47", "80": "80", "27": "27", "6E5": "6E5", "6U8": "6U8", "1R5": "1R5",
    "6K8": "6K8", "24A": "24A", "KT66": "KT66", "7591": "7591", "6X4": "6X4", "1N5GT": "1N5GT", "50L6GT": "50L6GT",
    "35Z5GT": "35Z5GT", "6F6": "6F6", "6F6GB": "6F6GB",
}  # fmt: skip
LAMPS = {"40", "40A", "44", "46", "47", "51", "313", "1847", "NE-2"}
DIODES = {"1N4007": None, "1N5408": None, "BY127": None}


@pytest.fixture(scope="session")
def reads():
    """Read a marking against the small catalogue."""

    def _read(marking, ref=None, role=None, kind=None):
        return read(marking, names=NAMES, lamps=LAMPS, diodes=DIODES, ref=ref, role=role, kind=kind)

    return _read
