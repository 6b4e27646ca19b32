"""An invented interface box: buttons on the wheel become commands to a radio. Your device stands here."""

from __future__ import annotations

from typing import Final

import can

KEYS_ID: Final = 0x16A  # WheelKeys of the Skerry 240: two bits a button, 1 is pressed
COMMAND_ID: Final = 0x5A0  # invented: one byte, the command
COMMANDS: Final = {0: "louder", 2: "quieter", 4: "next", 6: "previous", 8: "mute"}  # by the button's bit


class WheelBox:
    """Sends one command for each press, however long the button is held."""

    def __init__(self, radio: can.BusABC) -> None:
        self._radio = radio
        self._held: set[int] = set()

    def on_frame(self, message: can.Message) -> None:
        """Take a frame of the vehicle."""
        if message.arbitration_id != KEYS_ID or len(message.data) < 2:
            return
        keys = int.from_bytes(message.data[:2], "little")
        pressed = {bit for bit in COMMANDS if keys >> bit & 3 == 1}
        for bit in sorted(pressed - self._held):
            self._radio.send(can.Message(arbitration_id=COMMAND_ID, data=[bit], is_extended_id=False))
        self._held = pressed
