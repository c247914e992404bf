"""Write an erratum slip, to be laid into every copy of an issue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wherestood.record.report.content import Chapter, Paragraph, Report, Table

__all__ = ["erratum_slip"]


def erratum_slip(
    key: str,
    title: str,
    issued: str,
    errata: Sequence[Mapping[str, str]],
    made: str,
    version: str,
) -> Report:
    """Return the slip of one issue, with all that was found wrong so far.

    Parameters
    ----------
    key, title : str
        Of the issue.
    issued, made : str
        When it was issued, and when the slip is made; ISO 8601.
    errata : sequence of mapping
        ``words``, ``by`` and ``when`` of each.
    version : str
        Of the program.
    """
    rows = tuple((one["when"], one["by"], one["words"]) for one in errata)
    return Report(
        f"Erratum to {key}",
        f"{title}, issued {issued[:10]}",
        (Paragraph("Lay this slip into every copy of the issue named.", "caution"),),
        (
            Chapter(
                "What is wrong in it",
                (
                    Table(("noted", "by", "what"), rows, (0.15, 0.2, 0.65)),
                    Paragraph(
                        "The issue itself was not altered; its checksums still hold. "
                        "What is mended stands in a later issue."
                    ),
                ),
            ),
        ),
        made,
        version,
    )
