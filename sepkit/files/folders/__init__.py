"""The print folder: written whole or not at all, and read back.

Doors: ``record`` (separation.json, the one module that writes and reads it), ``print_folder.read_print_folder`` (with
its planes), ``write`` (new_folder, renewed, replace_file: whole or not at all).
"""

from __future__ import annotations
