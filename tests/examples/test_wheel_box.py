"""A device's whole test suite against a captured drive: copy it, put in your device and your log."""

import can

from tests.examples.wheel_box import COMMAND_ID, COMMANDS, WheelBox

LOG, DBC = "wheel_keys.log", "../../dbc/skerry_comfort.dbc"


def test_each_press_becomes_one_command(replayed_bus):
    vehicle = replayed_bus(LOG, speed=0)
    with can.Bus("radio", interface="virtual") as radio, can.Bus("radio", interface="virtual") as box_end:
        box = WheelBox(box_end)
        for frame in vehicle:
            box.on_frame(frame)
        sent = [radio.recv(0) for _ in range(6)]
    assert [message and (message.arbitration_id, COMMANDS[message.data[0]]) for message in sent] == [
        (COMMAND_ID, "louder"), (COMMAND_ID, "louder"), (COMMAND_ID, "next"), (COMMAND_ID, "quieter"),
        (COMMAND_ID, "mute"), None,
    ]  # fmt: skip


def test_the_log_is_what_the_box_is_made_for(netcheck_capture, netcheck_series, assert_period, assert_signal):
    assert_period(netcheck_capture(LOG), 0x16A, ms=50)
    assert_signal(netcheck_series(LOG, DBC)["WheelKeys", "WheelMute"], at=8.2, is_="pressed")
