"""``python -m dryward``."""

from dryward.doors.cli import main

main(prog_name="dryward")
