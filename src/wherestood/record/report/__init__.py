"""Write a report: one content, as PDF, HTML, DOCX and ODT.

`wherestood.record.report.facts` holds what a report is made of, whoever gathers it;
`wherestood.record.report.content` is the report itself, without any form; each form has
one writer. Nothing here knows a daybook.
"""

from wherestood.record.report.content import (
    Bullets,
    Chapter,
    Paragraph,
    Picture,
    Report,
    Table,
)
from wherestood.record.report.facts import PlateFacts, ReportFacts
from wherestood.record.report.paragraph import catalogue_paragraph
from wherestood.record.report.tell import tell_report
from wherestood.record.report.write import REPORT_FORMS, write_report

__all__ = [
    "REPORT_FORMS",
    "Bullets",
    "Chapter",
    "Paragraph",
    "Picture",
    "PlateFacts",
    "Report",
    "ReportFacts",
    "Table",
    "catalogue_paragraph",
    "tell_report",
    "write_report",
]
