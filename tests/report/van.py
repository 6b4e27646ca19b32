"""A mobile library's van and three retrofits, as their files would state them. All data is invented."""

from __future__ import annotations

import tomllib

from netcheck.files import Retrofit, Vehicle

VEHICLE = Vehicle.model_validate(
    tomllib.loads("""
kind = "vehicle"
format = 1
name = "Skerry 240"
model_years = [2017, 2022]

[network.comfort]
bitrate = 125_000
dbc = "skerry_comfort.dbc"
tap = "20-way connector behind the glovebox, pins 4 and 14"

[network.drive]
bitrate = 500_000
dbc = "skerry_drive.dbc"
tap = "20-way connector behind the glovebox, pins 7 and 17"

[module.gateway]
title = "Gateway"
network = "comfort"
request_id = 0x6A0
response_id = 0x6B0
coding_order = "last"
coding_why = "it asks every module it lists and stores a fault for one that does not answer yet"
[module.gateway.coding.0x2210]
length = 6
[module.gateway.coding.0x2210.field]
park_distance_module = { byte = 3, bit = 5, width = 1, values = { 0 = "absent", 1 = "fitted" } }

[module.column]
title = "Steering column module"
network = "comfort"
request_id = 0x6A3
response_id = 0x6B3
[module.column.coding.0x2230]
length = 4
[module.column.coding.0x2230.field]
wheel_buttons = { byte = 1, bit = 0, width = 1, values = { 0 = "absent", 1 = "fitted" } }
cruise_stalk = { byte = 1, bit = 4, width = 1, values = { 0 = "absent", 1 = "fitted" } }

[module.engine]
title = "Engine control"
network = "drive"
coding_order = "first"
coding_why = "the column module refuses the stalk while cruise control is off"
[module.engine.coding.0x2281]
length = 5
[module.engine.coding.0x2281.field]
cruise_control = { byte = 0, bit = 2, width = 1, values = { 0 = "off", 1 = "on" } }

[[role.reverse-engaged]]
network = "comfort"
message = "SelectorStatus"
signal = "SelectorLever"
active = ["R"]
[[role.vehicle-speed]]
network = "comfort"
message = "SpeedCopy"
signal = "SpeedOverGround"
[[role.vehicle-speed]]
network = "drive"
message = "WheelSpeeds"
signal = "VehicleSpeed"
[[role.terminal-15]]
network = "comfort"
message = "KeyStatus"
signal = "Terminal15"
active = ["on"]
[[role.illumination]]
network = "comfort"
message = "LightStatus"
signal = "SideLights"
active = ["on"]
[[role.trailer-coupled]]
network = "comfort"
message = "TowStatus"
signal = "Coupled"
active = ["yes"]
[[role.brake-pedal]]
network = "drive"
message = "PedalStatus"
signal = "BrakePedal"
active = ["pressed"]
[[role.clutch-pedal]]
network = "drive"
message = "PedalStatus"
signal = "ClutchPedal"
active = ["pressed"]
[[role."wheel.volume-up"]]
network = "comfort"
message = "WheelKeys"
signal = "VolumeUp"
active = ["pressed"]
unlocked_by = { module = "column", field = "wheel_buttons", value = "fitted" }
[[role."cruise.set"]]
network = "drive"
message = "StalkKeys"
signal = "SetKey"
active = ["pressed"]
unlocked_by = { module = "column", field = "cruise_stalk", value = "fitted" }
""")
)

PARK = Retrofit.model_validate(
    tomllib.loads("""
kind = "retrofit"
format = 1
name = "park-distance"
title = "Front and rear park-distance sensors"
cautions = [
  "Airbag and belt sensors may sit behind the bumper: wait as the maker says after disconnecting the battery",
  "The sensors assist; the driver stays answerable for what is behind the van",
]
[[need]]
role = "reverse-engaged"
evidence = "answers"
max_gap_ms = 250
why = "switches the sensors on"
[[need]]
role = "vehicle-speed"
why = "switches the sensors off above walking pace"
[[need]]
role = "terminal-15"
[[need]]
role = "illumination"
[[need]]
role = "trailer-coupled"
optional = true
why = "silences the rear sensors while towing"
[[match]]
fact = "park.bumper-material"
any_of = ["plastic"]
why = "sensors do not see through steel"
[[supply]]
roles = ["park.rear-left-inner"]
message_id = 0x4A1
[[exercise]]
role = "reverse-engaged"
do = "Foot on the brake, engine off, select reverse for 3 seconds, then neutral"
[[exercise]]
role = "vehicle-speed"
do = "Drive at walking pace, then stop"
[[exercise]]
role = "park.rear-left-inner"
do = "Hold a book box 60 cm behind the left rear corner"
[[step]]
phase = "before"
text = "Check the bumper skin for cross members where the sensors go"
[[step]]
phase = "fit"
text = "Mark the holes from inside, drill from outside with the step drill, deburr and prime"
[[step]]
phase = "fit"
text = "Lay the harness along the factory loom and fuse the supply at terminal 15"
[[step]]
phase = "prove"
text = "Hand over: show the driver the switch, the tones and their limits"
""")
)

WHEEL = Retrofit.model_validate(
    tomllib.loads("""
kind = "retrofit"
format = 1
name = "wheel-buttons"
title = "Multi-function steering wheel"
cautions = [
  "Driver airbag: disconnect the battery, wait as the maker says, only trained and licensed hands",
]
[[need]]
role = "terminal-15"
evidence = "answers"
[[need]]
role = "illumination"
why = "dims the button symbols"
[[need]]
role = "wheel.volume-up"
evidence = "answers"
why = "the radio's volume"
[[exercise]]
role = "terminal-15"
do = "Ignition off for 5 seconds, then on"
[[exercise]]
role = "illumination"
do = "Side lights on for 3 seconds, then off"
[[exercise]]
role = "wheel.volume-up"
do = "Press volume-up three times, one second each"
[[step]]
phase = "fit"
text = "Swap the wheel with the front wheels straight ahead; new centre bolt, torque as the maker says"
""")
)

CRUISE = Retrofit.model_validate(
    tomllib.loads("""
kind = "retrofit"
format = 1
name = "cruise-stalk"
title = "Cruise control stalk"
cautions = [
  "Cruise control moves the van by itself: prove every way of switching it off before the first road test",
]
[[need]]
role = "brake-pedal"
evidence = "answers"
max_gap_ms = 50
why = "switches cruise control off"
[[need]]
role = "clutch-pedal"
evidence = "answers"
why = "switches cruise control off"
[[need]]
role = "vehicle-speed"
[[need]]
role = "cruise.set"
evidence = "answers"
why = "takes over the speed"
[[exercise]]
role = "brake-pedal"
do = "Press the brake pedal three times, one second each"
[[exercise]]
role = "clutch-pedal"
do = "Press the clutch pedal three times, one second each"
[[exercise]]
role = "cruise.set"
do = "Engine off, ignition on: pull the stalk to set three times"
[[step]]
phase = "fit"
text = "Clip the stalk into the column switch carrier and route its plug clear of the rake adjuster"
""")
)
