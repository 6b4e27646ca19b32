"""Jobs as loaded, from a file and from command-line options."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.catalogue import assemble_job, load_job, load_retrofit, shipped, shipped_retrofit_path
from netcheck.errors import InputError, UsageError
from tests.files.examples import JOB, NAMES, RETROFIT, VEHICLE, changed, folder


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


JOB_FILE, VEHICLE_FILE, RETROFIT_FILE = (Path(NAMES[kind]) for kind in ("job", "vehicle", "retrofit"))


def says(error: type[Exception]) -> str:
    with pytest.raises(error) as caught:
        load_job(JOB_FILE)
    return str(caught.value)


def test_a_job_file() -> None:
    folder(Path())
    job = load_job(JOB_FILE)
    assert (job.file, job.name, job.model_year, job.notes) == (JOB_FILE, "van", 2020, ())
    assert job.expect == "no-go"
    assert job.vehicle.file == VEHICLE_FILE
    assert job.vehicle.dbc_paths("drive") == (Path("drive.dbc"), Path("engine.dbc"))
    (item,) = job.items
    assert (item.retrofit.name, item.network, item.source, item.where) == (
        "sensors",
        "comfort",
        str(RETROFIT_FILE),
        "item[0]",
    )
    (capture,) = job.captures
    assert (capture.path, capture.name, capture.when) == (
        Path("comfort_before.log.gz"),
        "comfort_before.log.gz",
        "before",
    )
    assert (capture.channels, capture.where) == ({"can0": "comfort"}, "capture[0]")
    places = [(str(mark.file), mark.where, mark.mark.from_) for mark in capture.marks]
    assert places == [
        ("van.job.toml", "capture[0].mark[0]", 12.0),
        ("van.job.toml", "capture[0].mark[1]", 20.0),
        ("comfort_before.marks.toml", "mark[0]", 30.0),
    ]
    (readout,) = job.readouts
    assert (readout.module, readout.did, readout.data, readout.when, readout.where) == (
        "column",
        0x600,
        bytes.fromhex("03001F00"),
        "before",
        "readout[0]",
    )


def test_paths_are_relative_to_the_file_that_names_them(tmp_path: Path) -> None:
    for name in ("vehicles", "jobs", "parts", "logs"):
        (tmp_path / name).mkdir()
    text = changed(JOB, "skerry.vehicle.toml", "../vehicles/skerry.vehicle.toml")
    text = changed(text, "sensors.retrofit.toml", "../parts/sensors.retrofit.toml")
    text = changed(text, "comfort_before.log.gz", "../logs/comfort_before.log.gz")
    paths = folder(tmp_path, job=text)
    for kind, place in (("vehicle", "vehicles"), ("retrofit", "parts"), ("job", "jobs"), ("marks", "logs")):
        paths[kind].rename(tmp_path / place / NAMES[kind])
    (tmp_path / "comfort_before.log.gz").rename(tmp_path / "logs" / "comfort_before.log.gz")
    for name in ("comfort.dbc", "drive.dbc", "engine.dbc"):
        (tmp_path / name).rename(tmp_path / "vehicles" / name)
    job = load_job(Path("jobs", NAMES["job"]))
    assert len(job.captures[0].marks) == 3
    assert job.captures[0].path.is_file()
    assert job.vehicle.dbc_paths("comfort")[0].is_file()


def test_facts_of_the_job_override_those_of_the_vehicle_file() -> None:
    folder(Path())
    job = load_job(JOB_FILE)
    assert job.own_facts == {"gearbox": "manual", "airbag.driver-stages": 1}
    assert job.facts == {"wheel.button-link": "LIN", "airbag.driver-stages": 1, "gearbox": "manual"}
    assert job.vehicle.model.facts == {"wheel.button-link": "LIN", "airbag.driver-stages": 2}
    assert assemble_job(VEHICLE_FILE, ["dash-camera"]).facts == job.vehicle.model.facts


def test_what_of_an_item_applies_to_the_vehicle() -> None:
    folder(Path())
    job = load_job(JOB_FILE)
    assert [need.role for need in job.applying(job.items[0]).needs] == ["reverse-engaged", "clutch-pedal"]
    folder(Path(), job=changed(JOB, '"manual"', '"automatic"'))
    job = load_job(JOB_FILE)
    assert [need.role for need in job.applying(job.items[0]).needs] == ["reverse-engaged"]
    folder(Path(), job=changed(JOB, 'gearbox = "manual"\n', ""))
    job = load_job(JOB_FILE)
    (unstated,) = job.applying(job.items[0]).unstated
    assert (unstated.fact, unstated.any_of) == ("gearbox", ("manual",))


def test_a_wire_of_its_own() -> None:
    folder(Path())
    job = load_job(JOB_FILE)
    wire = job.items[0].wire("reverse-engaged")
    assert wire is not None
    assert wire == job.items[0].wires[0]
    assert (wire.from_, wire.fuse) == ("reversing lamp feed, tail-lamp plug pin 3", "F18, 10 A")
    assert wire.expect == "12 V in reverse, 0 V else"
    assert job.items[0].wire("clutch-pedal") is None


CLUTCH_WIRE = '[[item.wire]]\nrole = "clutch-pedal"\nfrom = "clutch switch"\n[[item.wire]]\n'


@pytest.mark.parametrize(
    ("gearbox", "says"),
    [
        ("manual", "module engine uses 'clutch-pedal', not the part, so the wire does not serve the need"),
        ("automatic", "the need for 'clutch-pedal' does not apply to this vehicle"),
    ],
)
def test_a_wire_that_serves_no_need_is_said(gearbox: str, says: str) -> None:
    job = changed(changed(JOB, "[[item.wire]]\n", CLUTCH_WIRE), "manual", gearbox)
    folder(Path(), job=job)
    assert load_job(JOB_FILE).notes == (f"van.job.toml: item[0].wire[0]: {says}",)


def test_a_coding_value_is_checked_only_where_it_applies() -> None:
    place = 'value = "fitted"\nonly_if = { fact = "wheel.button-link", any_of = ["LIN"]'
    wrong = changed(RETROFIT, place, place.replace("fitted", "fited"))
    folder(Path(), retrofit=wrong)
    assert "'fited' is not a value of gateway.park_distance_module" in says(InputError)
    folder(Path(), retrofit=wrong, job=changed(JOB, "gearbox", 'wheel.button-link = "ladder"\ngearbox'))
    load_job(JOB_FILE)


def test_a_module_on_several_networks() -> None:
    folder(Path())
    modules = load_job(JOB_FILE).vehicle.model.module
    assert modules["gateway"].networks == ("comfort", "drive")
    assert modules["column"].networks == ("comfort",)
    assert modules["trailer"].networks == ()


def test_a_shipped_retrofit_by_name() -> None:
    folder(Path(), job=changed(JOB, "sensors.retrofit.toml", "park-distance"))
    (item,) = load_job(JOB_FILE).items
    assert (item.retrofit.name, item.source) == ("park-distance", "shipped: park-distance")


@pytest.mark.parametrize(
    "given", ["./sensors.retrofit.toml", "sensors.retrofit.toml", "../{here}/sensors.retrofit.toml"]
)
def test_a_retrofit_by_path(tmp_path: Path, given: str) -> None:
    folder(Path())
    path = given.format(here=tmp_path.name)
    retrofit, source = load_retrofit(path, tmp_path)
    assert (retrofit.name, source) == ("sensors", str(tmp_path / path))


def test_a_retrofit_path_without_the_suffix() -> None:
    folder(Path())
    RETROFIT_FILE.rename("part")
    assert load_retrofit("./part")[0].name == "sensors"
    with pytest.raises(UsageError, match="'part' is not a shipped retrofit"):
        load_retrofit("part")


def test_an_unknown_shipped_name_lists_them_nearest_first() -> None:
    with pytest.raises(UsageError) as caught:
        shipped_retrofit_path("dashcam")
    assert caught.value.remedy.startswith("one of dash-camera, ")
    assert all(name in caught.value.remedy for name in shipped())


def test_an_item_may_leave_its_network_out_only_if_it_sends_nothing() -> None:
    silent = changed(
        RETROFIT, 'roles = ["park.rear-left-inner", "park.rear-right-inner"]\nmessage_id = 0x4A1\n', ""
    )
    undecided = changed(JOB, 'network = "comfort"\n\n', "\n")
    folder(Path(), retrofit=silent, job=undecided)
    assert load_job(JOB_FILE).items[0].network is None
    folder(Path(), retrofit=changed(RETROFIT, "message_id = 0x4A1\n", ""), job=undecided)
    assert says(InputError).startswith("van.job.toml: item[0].network: is missing, but 'sensors' sends")
    roles = 'roles = ["park.rear-left-inner", "park.rear-right-inner"]\n'
    folder(Path(), retrofit=changed(RETROFIT, roles, ""), job=undecided)
    assert says(InputError).startswith("van.job.toml: item[0].network: is missing, but 'sensors' sends")


@pytest.mark.parametrize("year", [2017, 2022])
def test_the_span_of_model_years_is_inclusive(year: int) -> None:
    folder(Path(), job=changed(JOB, "2020", str(year)))
    assert load_job(JOB_FILE).model_year == year


TRAILER = 'module = "trailer"\ndid = 0x0700\ndata = "01"'
COLUMN = 'module = "column"\ndid = 0x0600\ndata = "03 00 1F 00"'


def test_a_module_that_this_model_year_does_not_have() -> None:
    job = changed(JOB, COLUMN, TRAILER)
    folder(Path(), job=changed(job, "2020", "2019"))
    assert load_job(JOB_FILE).readouts[0].data == b"\x01"
    folder(Path(), job=changed(job, "2020", "2018"))
    assert says(InputError) == (
        "van.job.toml: readout[0].module: module 'trailer' is not on a vehicle of model year 2018 – "
        "the vehicle file has it for 2019 to 2022: check the model year"
    )


def test_two_readouts_of_one_block() -> None:
    same = '[[readout]]\nmodule = "column"\ndid = 1536\ndata = "{}"\nwhen = "{}"\n'
    folder(Path(), job=JOB + same.format("03001f00", "before") + same.format("03101f00", "after"))
    assert [readout.when for readout in load_job(JOB_FILE).readouts] == ["before", "before", "after"]
    folder(Path(), job=JOB + same.format("03101f00", "before"))
    assert "readout[1].data: differs from readout[0]" in says(InputError)


def test_a_value_that_the_vehicles_field_cannot_take() -> None:
    place = 'field = "park_distance_module"\nvalue = "fitted"'
    folder(Path(), retrofit=changed(RETROFIT, place, place.replace("fitted", "fited")))
    assert says(InputError) == (
        "sensors.retrofit.toml: code[0].value: 'fited' is not a value of "
        "gateway.park_distance_module in skerry.vehicle.toml – one of fitted, absent"
    )
    folder(Path(), retrofit=changed(RETROFIT, place, place.replace('"fitted"', "2")))
    assert "code[0].value: 2 does not fit into the 1 bit of gateway.park_distance_module" in says(InputError)
    folder(Path(), retrofit=changed(RETROFIT, place, place.replace('"fitted"', "1")))
    assert load_job(JOB_FILE).items[0].retrofit.code[0].value == 1


def test_a_field_that_the_vehicle_has_not_is_no_error_of_the_file() -> None:
    """It is a finding of the plan; and so is one of a module that this model year does not have."""
    place = 'field = "park_distance_module"\nvalue = "fitted"'
    folder(Path(), retrofit=changed(RETROFIT, place, 'field = "no_such"\nvalue = "fited"'))
    load_job(JOB_FILE)
    field = (
        '[module.trailer.coding.0x0700.field.socket]\nbyte = 0\n[[role.reverse-engaged]]\nnetwork = "drive"'
    )
    vehicle = changed(VEHICLE, '[[role.reverse-engaged]]\nnetwork = "drive"', field)
    retrofit = changed(
        RETROFIT, f'module = "gateway"\n{place}', 'module = "trailer"\nfield = "socket"\nvalue = "x"'
    )
    folder(Path(), vehicle=vehicle, retrofit=retrofit, job=changed(JOB, "2020", "2018"))
    load_job(JOB_FILE)
    folder(Path(), vehicle=vehicle, retrofit=retrofit)
    assert "'x' is not a value of trailer.socket" in says(InputError)


def test_a_mark_of_a_role_that_nobody_knows_is_said() -> None:
    wrong = changed(JOB, '"reverse-engaged"\nstate', '"reverse-engage"\nstate')
    folder(Path(), job=wrong)
    assert load_job(JOB_FILE).notes == (
        "van.job.toml: capture[0].mark[0].role: neither the vehicle nor an item knows 'reverse-engage', "
        "so the mark is not used – one of reverse-engaged, cruise.set, clutch-pedal",
    )


def test_a_job_from_options() -> None:
    folder(Path())
    retrofits = ["sensors.retrofit.toml", "dash-camera"]
    job = assemble_job(
        VEHICLE_FILE, retrofits, network="comfort", captures=[Path("comfort_before.log.gz")], year=2018
    )
    assert (job.file, job.name, job.model_year, job.notes) == (None, "sensors, dash-camera", 2018, ())
    assert job.source() == VEHICLE_FILE
    assert [(item.retrofit.name, item.network, item.source) for item in job.items] == [
        ("sensors", "comfort", "sensors.retrofit.toml"),
        ("dash-camera", "comfort", "shipped: dash-camera"),
    ]
    (capture,) = job.captures
    assert (capture.name, capture.when, capture.channels) == ("comfort_before.log.gz", "before", {})
    assert [mark.where for mark in capture.marks] == ["mark[0]"]
    assert job.readouts == ()


def test_without_a_year_it_is_the_last_of_the_span_and_says_so() -> None:
    folder(Path())
    job = assemble_job(VEHICLE_FILE, ["dash-camera"])
    assert job.model_year == 2022
    assert job.notes == ("No model year was given: 2022 is assumed, the last one of the vehicle file",)
    assert job.items[0].network is None


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (
            {"year": 2030},
            "--year: 2030 is outside the vehicle file's model years (skerry.vehicle.toml) – "
            "they are 2017 to 2022",
        ),
        (
            {"network": "komfort"},
            "--network: 'komfort' is not a network of skerry.vehicle.toml – one of comfort, drive",
        ),
        (
            {"retrofits": ["sensors.retrofit.toml"]},
            "'sensors' sends something, so netcheck must know where it is wired – "
            "give --network: one of comfort",
        ),
        (
            {"retrofits": ["amplifer"]},
            "--retrofit: 'amplifer' is not a shipped retrofit – one of amplifier, ",
        ),
        ({"retrofits": []}, "no retrofit was given – give --retrofit: one of amplifier, cruise-stalk, "),
    ],
)
def test_options_that_do_not_suit(options: dict[str, object], text: str) -> None:
    folder(Path())
    retrofits = options.pop("retrofits", ["dash-camera"])
    with pytest.raises(UsageError) as caught:
        assemble_job(VEHICLE_FILE, retrofits, **options)  # type: ignore[arg-type]
    assert str(caught.value).startswith(text)


@pytest.mark.parametrize(
    ("options", "text"),
    [
        ({"captures": [Path("gone.log")]}, "gone.log: no such file – check the path given with --capture"),
        ({"captures": [Path()]}, ".: this is a directory, not a file – check the path given with --capture"),
        ({"retrofits": ["gone.retrofit.toml"]}, "gone.retrofit.toml: no such file – check the path"),
        (
            {"retrofits": ["skerry.vehicle.toml"]},
            "skerry.vehicle.toml: this is a vehicle file, not a retrofit file",
        ),
        ({"vehicle": Path("van.job.toml")}, "van.job.toml: this is a job file, not a vehicle file"),
        ({"vehicle": Path("gone.toml")}, "gone.toml: no such file"),
    ],
)
def test_files_that_do_not_suit(options: dict[str, object], text: str) -> None:
    folder(Path())
    vehicle = options.pop("vehicle", VEHICLE_FILE)
    retrofits = options.pop("retrofits", ["dash-camera"])
    with pytest.raises(InputError) as caught:
        assemble_job(vehicle, retrofits, **options)  # type: ignore[arg-type]
    assert str(caught.value).startswith(text)
