"""The sheets to hang at the press: facts of a print or a job to blocks, blocks to HTML text. No disk.

Doors: ``print_sheet.print_sheet`` and ``job_sheet.job_sheet`` return a Sheet, ``html.html_page`` writes it as HTML,
``html.with_film_note`` puts a note on the films into a page that stands.
"""

from __future__ import annotations
