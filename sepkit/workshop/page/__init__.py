"""What the page keeps on the disk: art that was dropped, the desk, edits. ``keep`` is the door."""
