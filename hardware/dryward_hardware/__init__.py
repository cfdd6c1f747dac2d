"""Devices of a drying chamber: ports, keeper, reader, drivers and the simulated dryer. Knows nothing of dryward."""
