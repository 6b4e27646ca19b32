"""What goes along on the Skerry 240: signals that follow a role, wander by themselves, or are not there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

Value = float | str

# network, message, signal, value while the role is active, value otherwise
ALONG: Mapping[str, Sequence[tuple[str, str, str, Value, Value]]] = {
    "reverse-engaged": [
        ("comfort", "LightState", "ReverseLamp", "on", "off"),
        ("comfort", "GearCopy", "GearLeverSure", 1, 1),
        ("drive", "GearState", "GearNeutral", "off", "on"),
        ("drive", "GearState", "GearTravel", -31.4, 0.0),
    ],
    "brake-pedal": [
        ("comfort", "LightState", "BrakeLamp", "on", "off"),
        ("drive", "BrakeForce", "BrakeTest", "on", "off"),
        ("drive", "BrakeForce", "BrakePressure", 31.5, 0.0),
        ("drive", "BrakeControl", "BrakeLamps", "on", "off"),
    ],
    "clutch-pedal": [("drive", "PedalState", "ClutchStart", "on", "off")],
    "illumination": [
        ("comfort", "LightState", "DippedBeam", "on", "off"),
        ("drive", "ColumnCopy", "CopyDipped", "on", "off"),
    ],
    "s-contact": [("comfort", "KeyState", "KeyPosition", "inserted", "out")],
    "terminal-15": [
        ("comfort", "KeyState", "KeyPosition", "run", "inserted"),
        ("drive", "TerminalCopy", "TerminalKey", "run", "inserted"),
        ("comfort", "RadioState", "RadioPower", 1, 0),
    ],
    "trailer-coupled": [
        ("comfort", "TrailerState", "TrailerCurrent", 0.6, 0.0),
        ("comfort", "TrailerState", "TrailerTail", "on", "off"),
    ],
    "door.driver-open": [
        ("comfort", "DoorRight", "DoorRightHandle", 1, 0),
        ("comfort", "CabLights", "CabLightFront", 100.0, 0.0),
        ("comfort", "CabLights", "CabLightCause", "door", "none"),
    ],
    "engine-running": [
        ("comfort", "BatteryState", "BatteryVoltage", 14.28, 12.48),
        ("comfort", "BatteryState", "BatteryCurrent", 21.0, -18.0),
        ("comfort", "EngineCopy", "EngineBoost", 1000.0, 1000.0),
        ("conversion", "VanSupply", "VanVoltage", 14.24, 12.46),
        ("conversion", "VanSupply", "VanAlternator", "on", "off"),
        ("drive", "Alternator", "AlternatorCurrent", 46.0, 0.0),
        ("drive", "Alternator", "AlternatorLoad", 34.0, 0.0),
        ("drive", "Charging", "AirMass", 48.0, 0.0),
        ("drive", "EngineTemperatures", "OilPressure", 2.6, 0.0),
        ("drive", "EngineTorque", "TorqueActual", 22.0, 0.0),
        ("drive", "FuelSystem", "FuelUse", 0.9, 0.0),
        ("drive", "FuelSystem", "RailPressure", 310.0, 4.0),
    ],
}

# signals that follow the road speed, with a factor
SPEEDS: Sequence[tuple[str, str, str, float]] = [
    ("drive", "WheelSpeeds", "SpeedFrontLeft", 1.004),
    ("drive", "WheelSpeeds", "SpeedFrontRight", 0.997),
    ("drive", "WheelSpeeds", "SpeedRearLeft", 1.001),
    ("drive", "WheelSpeeds", "SpeedRearRight", 0.999),
    ("drive", "RecorderSpeed", "RecorderSpeedValue", 1.0),
]

# messages that only come with an option; the first three are unlocked by coding
OPTIONAL: Mapping[str, Sequence[tuple[str, str]]] = {
    "wheel-buttons": [("comfort", "WheelKeys")],
    "cruise-stalk": [("comfort", "CruiseKeys"), ("drive", "CruiseKeysCopy")],
    "cruise-control": [("drive", "CruiseState")],
    "park-distance": [("comfort", "ParkRear"), ("comfort", "ParkFront"), ("comfort", "ParkAidState")],
    "camera": [("comfort", "CameraState")],
    "amplifier": [("comfort", "AmplifierState")],
}

# messages of some model years only: network, message, first and last year
YEARS: Sequence[tuple[str, str, int, int]] = [
    ("comfort", "TrailerState", 2018, 2022),
    ("drive", "TrailerStability", 2018, 2022),
    ("conversion", "VanSteering", 2020, 2022),
]

# physical units to either side
NOISE: Mapping[tuple[str, str, str], float] = {
    ("comfort", "BatteryState", "BatteryCurrent"): 1.5,
    ("comfort", "BatteryState", "BatteryVoltage"): 0.04,
    ("comfort", "ClimateSensors", "CabTemperature"): 0.1,
    ("comfort", "ClimateSensors", "EvaporatorTemperature"): 0.2,
    ("comfort", "ClimateSensors", "SunLeft"): 6.0,
    ("comfort", "ClimateSensors", "SunRight"): 6.0,
    ("comfort", "FuelState", "FuelSender"): 2.0,
    ("comfort", "ScreenSensor", "ScreenLight"): 25.0,
    ("conversion", "HouseBattery", "HouseCurrent"): 0.3,
    ("conversion", "HouseBattery", "HouseVoltage"): 0.02,
    ("conversion", "LevelState", "LevelAcross"): 0.1,
    ("conversion", "LevelState", "LevelAlong"): 0.1,
    ("conversion", "RoofState", "RoofWind"): 3.0,
    ("conversion", "SolarState", "SolarCurrent"): 0.1,
    ("conversion", "SolarState", "SolarVoltage"): 0.2,
    ("drive", "Charging", "BoostPressure"): 6.0,
    ("drive", "ExhaustState", "ExhaustBefore"): 1.0,
    ("drive", "ExhaustState", "NitrogenBefore"): 8.0,
    ("drive", "Motion", "AcrossAcceleration"): 0.03,
    ("drive", "Motion", "AlongAcceleration"): 0.03,
    ("drive", "Motion", "YawRate"): 0.08,
    ("drive", "SteerAngle", "SteerWheelAngle"): 0.1,
    ("drive", "SteerAssist", "AssistTorque"): 0.05,
}
