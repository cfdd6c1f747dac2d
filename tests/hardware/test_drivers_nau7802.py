"""The NAU7802: the real library and our reading on a chip simulated by its registers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.drivers import nau7802 as module
from dryward_hardware.drivers.nau7802 import Nau7802
from dryward_hardware.reader.driver import Value, read_once


class Chip:
    """An NAU7802 on a CircuitPython I2C bus, by the register table of its datasheet: power-up, calibration, results."""

    def __init__(self) -> None:
        self.registers = bytearray(0x20)
        self.counts = [1000]
        self.present = self.converting = True
        self.transactions: list[tuple[int, int]] = []

    def try_lock(self) -> bool:
        return True

    def unlock(self) -> None: ...

    def writeto(self, address: int, buffer: bytes, *, start: int = 0, end: int | None = None) -> None:
        self._answer(address)
        data = bytes(buffer[start:end])
        if len(data) > 1:
            self._write(data[0], data[1])

    def readfrom_into(self, address: int, buffer: bytearray, *, start: int = 0, end: int | None = None) -> None:
        self._answer(address)

    def writeto_then_readfrom(
        self,
        address: int,
        out_buffer: bytes,
        in_buffer: bytearray,
        *,
        out_start: int = 0,
        out_end: int | None = None,
        in_start: int = 0,
        in_end: int | None = None,
    ) -> None:
        self._answer(address)
        register, length = out_buffer[out_start], (len(in_buffer) if in_end is None else in_end) - in_start
        self.transactions.append((register, length))
        if register == 0x12:
            self.registers[0x12:0x15] = self._next().to_bytes(3, "big", signed=True)
        self.registers[0] = self.registers[0] & ~0x20 | (0x20 if self.converting else 0)
        in_buffer[in_start : in_start + length] = self.registers[register : register + length]

    def _answer(self, address: int) -> None:
        if not self.present or address != 0x2A:
            raise OSError(121, "Remote I/O error")

    def _next(self) -> int:
        return self.counts.pop(0) if len(self.counts) > 1 else self.counts[0]

    def _write(self, register: int, value: int) -> None:
        if register == 0 and value & 0x02:
            value |= 0x08  # powered up: ready
        if register == 2:
            value &= ~0x04  # a calibration ends at once
        self.registers[register] = value


@pytest.fixture
def chip(monkeypatch: pytest.MonkeyPatch) -> Chip:
    monkeypatch.setattr("cedargrove_nau7802.time.sleep", lambda _: None)
    return Chip()


def test_the_library_sets_the_chip_up(chip: Chip) -> None:
    Nau7802(i2c=chip)
    assert chip.registers[0] & 0x86 == 0x86, "analog and digital part on, internal supply"
    assert chip.registers[1] == 0b101_111, "3.0 V, gain 128"


def test_a_weight_is_read_in_whole_transactions_with_the_counts_behind_it(chip: Chip) -> None:
    driver = Nau7802(i2c=chip, zero_count=500.0, g_per_count=0.02)
    chip.transactions.clear()
    chip.counts = [999_999, 1500, 1501, 1499, 1500, 7_000_000, 1500]
    assert read_once(driver) == (Value("weight", 20.0), Value("counts", 1500.0))
    assert [t for t in chip.transactions if t[0] in (0x12, 0x13, 0x14)] == [(0x12, 3)] * 6, (
        "one is dropped, five are taken"
    )


@given(st.integers(-(2**23), 2**23 - 1))
def test_every_count_is_read_as_the_chip_holds_it_or_refused(count: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cedargrove_nau7802.time.sleep", lambda _: None)
        chip = Chip()
        driver = Nau7802(i2c=chip)
        chip.counts = [count]
        (value,) = read_once(driver)
        assert value.value == count or (value.fault and count in (0, -1, -(2**23), 2**23 - 1))


def test_a_chip_that_is_unplugged_is_missed_and_its_first_value_back_is_dropped(chip: Chip) -> None:
    driver = Nau7802(i2c=chip)
    assert read_once(driver) == (Value("counts", 1000.0),)
    chip.present = False
    assert read_once(driver) == (Value("counts", None, "no answer"),)
    chip.present, chip.counts = True, [5_000_000, 1200]
    assert read_once(driver) == (Value("counts", 1200.0),)


def test_a_chip_that_converts_no_more_is_no_answer(chip: Chip, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "READY_S", 0.02)
    driver = Nau7802(i2c=chip)
    chip.converting = False
    assert read_once(driver) == (Value("counts", None, "no answer"),)


def test_a_chip_that_is_not_there_cannot_be_opened(chip: Chip) -> None:
    with pytest.raises(ValueError, match="No I2C device"):
        Nau7802(i2c=chip, address=0x2B)
    with pytest.raises(ValueError, match="/dev/i2c-19"):
        Nau7802(bus=19)
