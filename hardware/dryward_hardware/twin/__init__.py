"""The simulated chamber: physics advanced by time, devices backed by it, scripted faults. For rehearsing programs."""

from dryward_hardware.twin.device import Twin as Twin
from dryward_hardware.twin.faults import Fault as Fault
from dryward_hardware.twin.options import TwinOptions as TwinOptions
