"""Does this kernel leave an output line on when the program that drove it dies? Then heat is refused.

On a Raspberry Pi a line keeps its level after its owner has gone (raspberrypi/linux pull requests 6117 and 6150);
``dtparam=strict_gpiod`` in config.txt makes it fall back. The pinctrl module shows which holds.
"""

from __future__ import annotations

from pathlib import Path

MODULES = Path("/sys/module")


def outputs_persist(modules: Path = MODULES) -> str:
    """Return why heat is refused, or '' when lines fall back or there is no such setting on this machine."""
    for parameter in sorted(modules.glob("pinctrl*/parameters/persist_gpio_outputs")):
        try:
            value = parameter.read_text().strip()
        except OSError:
            continue
        if value.upper() in ("Y", "1"):
            return (
                "outputs of this Raspberry Pi stay on when the program that drives them dies: put dtparam=strict_gpiod "
                "into config.txt and start again (or say [service] allow_heat_while_outputs_persist = true)"
            )
    return ""
