"""``python -m tests.benchmarks NAME [args]`` runs tests.benchmarks.NAME.main(args); without a name it lists them."""

from __future__ import annotations

import importlib
import pkgutil
import sys

import tests.benchmarks


def main() -> None:
    """Run one benchmark, or list them with their first lines."""
    names = sorted(m.name for m in pkgutil.iter_modules(tests.benchmarks.__path__) if not m.name.startswith("_"))
    if len(sys.argv) < 2 or sys.argv[1] not in names:
        for name in names:
            text = importlib.import_module(f"tests.benchmarks.{name}").__doc__ or ""
            print(f"{name:12} {text.strip().splitlines()[0] if text else ''}")
        sys.exit(0 if len(sys.argv) < 2 else 2)
    importlib.import_module(f"tests.benchmarks.{sys.argv[1]}").main(sys.argv[2:])


if __name__ == "__main__":
    main()
