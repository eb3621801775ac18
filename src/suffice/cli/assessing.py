"""``suffice assess`` and ``suffice batch``: questions about files.

No record is opened, but where a batch is to use what the clinic's own infants say.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer
from msgspec import structs

from suffice.cli.console import in_words, out, speak_as
from suffice.cli.moment import now_utc
from suffice.cli.store import open_record
from suffice.cli.system import reason_of
from suffice.errors import InputError, Problem
from suffice.exchange.moment import read_instant
from suffice.message import message

if TYPE_CHECKING:
    from suffice.inference.growth.prior import SiteShift

# As suffice.knowledge.policy has it; importing it from there would slow every command down.
Language = Literal["en", "es"]
IN_LANGUAGE = "The language of the answer."

LARGEST_FILE_BYTES = 64 * 1024 * 1024


def assess_file(
    file: Annotated[Path, typer.Argument(help="A family as a JSON file.")],
    as_of: Annotated[
        str | None,
        typer.Option(help="Date and time of the question, like 2026-03-28T09:30; now if left out."),
    ] = None,
    known_by: Annotated[
        str | None, typer.Option(help="Leave out what was entered after this date and time.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
    zone: Annotated[
        str | None, typer.Option(help="IANA time zone; that of the first birth if left out.")
    ] = None,
    content_version: Annotated[
        str | None,
        typer.Option(
            "--content", help="Ask with the content set of this version, as it was frozen."
        ),
    ] = None,
    no_engine: Annotated[
        bool, typer.Option("--no-engine", help="Plain rules only, without probabilities.")
    ] = False,
    language: Annotated[Language, typer.Option(help=IN_LANGUAGE)] = "en",
) -> None:
    """Print the whole assessment of a family file, with its working."""
    from suffice.assess.assessment import assess  # noqa: PLC0415 -- numpy and scipy
    from suffice.care.family.asking_file import policy_for, read_record  # noqa: PLC0415
    from suffice.knowledge.frozen import content_of  # noqa: PLC0415

    speak_in(language)
    record = read_record(read_bytes(file))
    policy = structs.replace(policy_for(record, zone), language=language)
    speak_as(policy)
    instant = now_utc() if as_of is None else read_instant(as_of, policy.zone)
    known = None if known_by is None else read_instant(known_by, policy.zone, option="--known-by")
    content = content_of(content_version)
    assessed = assess(record, instant, content, policy, known_by=known, engine=not no_engine)
    if as_json:
        import msgspec  # noqa: PLC0415

        encoded = msgspec.json.format(msgspec.json.encode(assessed), indent=1)
        sys.stdout.buffer.write(encoded + b"\n")
        return
    from suffice.cli.report import print_assessment  # noqa: PLC0415

    print_assessment(assessed, policy, content, record)


def speak_in(language: Language) -> None:
    """Speak a language where there is no clinic to ask."""
    from suffice.knowledge.policy import Policy  # noqa: PLC0415

    speak_as(Policy(language=language))


def read_bytes(path: Path) -> bytes:
    """The content of a file that was named on the command line.

    Raises:
        InputError: CLI-003 when it is not there or not a file, CLI-004 when it may not be read,
            CLI-005 when it is too large.
    """
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise InputError(
                Problem(
                    code="CLI-005",
                    what=str(path),
                    why=message("is larger than {limit} MB.", limit=LARGEST_FILE_BYTES // 1024**2),
                    fix=message("Split it, and import the parts one after another."),
                )
            )
        return path.read_bytes()
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        raise InputError(_no_file(path)) from None
    except OSError as error:
        raise InputError(
            Problem(
                code="CLI-004",
                what=str(path),
                why=message("cannot be read: {reason}.", reason=reason_of(error)),
                fix=message("Check who owns the file and who may read it."),
            )
        ) from None


def batch(  # noqa: PLR0913, PLR0917 -- options of the command
    file: Annotated[
        Path,
        typer.Argument(help="A cohort as a Parquet file or a folder of them, one row a weight."),
    ],
    output: Annotated[Path, typer.Option("--output", "-o", help="Where the answers go (Parquet).")],
    as_of: Annotated[
        str | None,
        typer.Option(help="Date and time of the question; each infant's last weight if left out."),
    ] = None,
    zone: Annotated[str, typer.Option(help="IANA time zone of --as-of without offset.")] = "UTC",
    pool_sites: Annotated[
        bool, typer.Option("--pool-sites", help="Learn how growth differs at each site.")
    ] = False,
    own_infants: Annotated[
        bool,
        typer.Option("--own-infants", help="Use what was learned from the clinic's own infants."),
    ] = False,
    processes: Annotated[int, typer.Option(help="How many processes assess.", min=1)] = 2,
    scheduler: Annotated[
        str | None,
        typer.Option(help="A dask scheduler, as tcp://host:8786, or 'local'; see docs/cluster.md."),
    ] = None,
    language: Annotated[Language, typer.Option(help=IN_LANGUAGE)] = "en",
) -> None:
    """Assess a cohort of any size: one answer for each infant."""
    speak_in(language)
    if not file.exists():
        raise InputError(_no_file(file))
    from suffice.cli.progress import steps  # noqa: PLC0415
    from suffice.cohort.run import STAGES, assess_cohort  # noqa: PLC0415 -- polars

    at = None if as_of is None else read_instant(as_of, zone)
    with steps(*STAGES) as advances:
        bars = dict(zip(STAGES, advances, strict=True))

        def watch(stage: str, count: int, total: int) -> None:
            bars[stage](count, total)

        usual = _own_infants() if own_infants else None
        if scheduler is None:
            done = assess_cohort(
                file,
                output,
                as_of=at,
                pool_sites=pool_sites,
                usual=usual,
                processes=processes,
                progress=watch,
            )
        else:
            from suffice.cohort.cluster import assess_on_cluster  # noqa: PLC0415 -- dask

            done = assess_on_cluster(
                file,
                output,
                scheduler=scheduler,
                as_of=at,
                pool_sites=pool_sites,
                usual=usual,
                workers=processes,
                progress=watch,
            )
    for line in done.summary:
        out.print(in_words(line), markup=False)


def _own_infants() -> SiteShift:
    """What the clinic's own infants say, from the policy of the record."""
    from suffice.care.clinic.clinic import clinic  # noqa: PLC0415
    from suffice.care.clinic.learning import is_of_prior  # noqa: PLC0415
    from suffice.knowledge.clinic_site import site_shift  # noqa: PLC0415

    open_record()
    here = clinic()
    site = here.policy.site_in_use
    if site is None or not is_of_prior(site, here):
        raise InputError(
            Problem(
                code="BATCH-012",
                what=message("No growth of the clinic's own infants."),
                why=message("Too few were weighed twice, or the policy leaves them out."),
                fix=message("See Policy, Your own infants; or run without --own-infants."),
            )
        )
    return site_shift(site)


def _no_file(path: Path) -> Problem:
    return Problem(
        code="CLI-003",
        what=str(path),
        why=message("is not a file."),
        fix=message("Check the path; relative ones start where the command is run."),
    )
