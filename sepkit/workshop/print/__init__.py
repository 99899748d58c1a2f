"""One print, from art to print folder: the one way that every command takes.

Doors: ``options.bench_of`` (words to a bench, once), ``plan.plan_print`` and ``plan.planned_again``,
``write.make_prints``, ``remake.remake_films``, ``reopen.reopened``, ``check.check_art``.
"""

from __future__ import annotations
