"""Not one import: the fixtures of netcheck do it."""

DRIVE, DBC = "../../sample_logs/guillemot_2021_conversion.log", "../../dbc/skerry_conversion.dbc"


def test_reverse_comes_when_it_is_engaged(netcheck_series, assert_signal):
    reverse = netcheck_series(DRIVE, DBC)["VanMotion", "VanReverse"]
    assert_signal(reverse, at=4.0, is_="off")
    assert_signal(reverse, at=6.5, is_="on")


def test_it_comes_often_enough(netcheck_capture, assert_period):
    assert_period(netcheck_capture(DRIVE), 0x18FF2127, ms=100)


def test_the_camera_can_be_fitted(netcheck_plan, assert_shown):
    assert_shown(netcheck_plan("../../sample_logs/guillemot_2021_camera.job.toml"), "reverse-engaged")
