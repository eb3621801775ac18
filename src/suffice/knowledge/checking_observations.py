"""What must hold of the vocabulary of observations beyond its shape."""

from __future__ import annotations

from suffice.knowledge.observable import FOLDER, KNOWN, KnownFact, Observable, faults_of
from suffice.knowledge.reading import Faults, Written
from suffice.message import message


def check_observations(found: Written, faults: Faults) -> None:
    """Note every fault of the vocabulary: CONTENT-023, and CONTENT-012 for a key that is used twice."""
    words = found.vocabularies[FOLDER]
    signs = found.vocabularies["signs"]
    every: dict[str, Observable | KnownFact] = dict(found.known)
    every.update({key: one for key, one in words.items() if isinstance(one, Observable)})
    for key in sorted(found.known.keys() & words.keys()):
        faults.add(
            "CONTENT-012",
            f"{KNOWN}.toml {key}",
            what=message("'{key}' is entered as an observation too.", key=key),
            why=message("What follows from other entries is not entered a second time."),
            fix=message("Take it out of one of the two."),
        )
    for key, one in every.items():
        for fault in faults_of(one, found.units, signs):
            faults.add(
                "CONTENT-023",
                f"{FOLDER} {key}",
                what=message("The observation '{key}' is not as it should be.", key=key),
                why=message("The rule: {fault}.", fault=fault),
                fix=message("Correct it; docs/reference/content.md lists the fields."),
            )
