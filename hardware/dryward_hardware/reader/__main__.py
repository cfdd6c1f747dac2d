"""``python -m dryward_hardware.reader``: started by the client, never by hand."""

import sys

from dryward_hardware.reader.process import main

main(sys.argv)
