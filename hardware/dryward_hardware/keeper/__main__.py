"""``python -m dryward_hardware.keeper``: started by the client, never by hand."""

import sys

from dryward_hardware.keeper.process import main

main(sys.argv)
