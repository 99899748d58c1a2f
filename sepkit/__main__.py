"""``python -m sepkit`` is the ``sepkit`` command."""

from __future__ import annotations

from sepkit.cli.main import main

if __name__ == "__main__":
    main()
