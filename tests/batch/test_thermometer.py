"""Files of logging thermometers, as they come."""

import numpy as np
import pytest

from labkit.batch import fit_cooling, read_thermometer
from labkit.errors import LabError

PLAIN = (
    "Time,Temperature (°C)\n2026-03-05 10:00:00,75.5\n2026-03-05 10:00:30,74.1\n2026-03-05 10:01:00,72.9\n"
)


@pytest.mark.parametrize(
    "content",
    [
        PLAIN,
        PLAIN.encode("utf-8-sig"),
        PLAIN.encode("utf-16"),
        PLAIN.encode("cp1252"),
        PLAIN.replace("\n", "\r\n"),
        "Temperature (°C);Time\n75,5;10:00:00\n74,1;10:00:30\n72,9;10:01:00\n",
        "Temp\tElapsed (s)\n75,5 °C\t0\n74,1 °C\t30\n72,9 °C\t60\n",
        "Device,Kitchen 2\nSerial,17\n\nDate,Time,Humidity,Probe C\n"
        "5/3/26,10:00,40,75.5\n5/3/26,10:00:30,40,74.1\n"
        "5/3/26,10:01,40,72.9\n",
        'Time,Temp °C\n10:00:00,"75,5"\n10:00:30,"74,1"\n10:01:00,"72,9"\n',
        "minutes,temp_c\n0,75.5\n0.5,74.1\n1,72.9\n",
        "Temp (°F);Zeit\n167,9;23:59:30\n165,38;00:00:00\n163,22;00:00:30\n",
        "Time,Temp °C\n11:59:30 PM,75.5\n12:00:00 AM,74.1\n12:00:30 AM,72.9\n",
    ],
)
def test_one_log_in_many_guises(content):
    log = read_thermometer(content)
    assert log.minutes == pytest.approx([0.0, 0.5, 1.0])
    assert log.celsius == pytest.approx([75.5, 74.1, 72.9])


def test_rows_without_a_temperature_are_left_out_and_counted():
    log = read_thermometer("Time;Temp °C\n10:00;75\n10:01;--\n10:02;NaN\n10:03;70\n10:04;68\n")
    assert log.minutes.tolist() == [0.0, 3.0, 4.0]
    assert "2 rows without a temperature" in log.notes[0]


def test_gaps_are_told():
    clock = [*range(10), *range(40, 50)]
    lines = "".join(f"{each},{80 - each}\n" for each in clock)
    log = read_thermometer("time (min),temp °C\n" + lines)
    assert log.gaps == ((9.0, 40.0),)
    assert "No readings from 9 to 40 min." in log.notes


def test_a_second_probe_is_named():
    log = read_thermometer("time (min),temp 1 (°C),temp 2 (°C)\n0,75,22\n1,70,22\n2,66,22\n")
    assert log.celsius.tolist() == [75.0, 70.0, 66.0]
    assert "“temp 2 (°C)”" in log.notes[-1]


def test_a_unit_may_be_said_and_what_was_turned_is_told():
    log = read_thermometer("time (min),temp\n0,167\n1,158\n2,150.8\n", unit="°F")
    assert log.celsius == pytest.approx([75.0, 70.0, 66.0])
    assert "Turned from °F to °C." in log.notes
    assert read_thermometer("time,temp °C\n0,75\n60,70\n120,66\n", time_unit="s").minutes.tolist() == [
        0.0,
        1.0,
        2.0,
    ]


def test_a_log_goes_into_the_cooling_curve():
    clock = np.arange(0, 900, 15)
    lines = "".join(f"{each};{22 + 53 * np.exp(-each / 720):.2f}\n".replace(".", ",") for each in clock)
    log = read_thermometer("elapsed (s);temp °C\n" + lines)
    assert fit_cooling(log.minutes, log.celsius, room_c=22.0).tau_min == pytest.approx(12.0, rel=2e-3)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "no rows"),
        ("a,b\n1,2\n3,4\n", "names a time and a temperature"),
        ("time (min),temp °C\n0,\n1,\n2,70\n", "1 temperatures"),
        ("time (min),temp\n0,75\n1,70\n2,66\n", "°C or °F"),
        ("time (min),temp °C\n0,167\n1,158\n2,150\n", "was 75 °C"),
        ("time,temp °C\n0,75\n1,70\n2,66\n", "what its time counts"),
        ("time,temp °C\n10:00,75\n10:02,70\n10:01,66\n", "goes back at row 4"),
        (
            "time,temp °C\n2026-10-25 02:59,75\n2026-10-25 02:00,70\n2026-10-25 02:01,66\n",
            "goes back at row 3",
        ),
        ("time (min),temp °C\n0,0,75,5\n0,5,74,1\n1,0,73,0\n", "export the file with semicolons"),
        ("time (min),temp °C\n0,75\n1,warm\n2,66\n", "Row 3: “warm”"),
        ("time (min),temp °C\n0,75\nlater,70\n2,66\n", "Row 3: “later” is no time"),
        ("time,temp °C\n10:00,75\n25:00,70\n26:00,66\n", "25:00"),
        ("time (min),temp\n0,75 C\n1,158 F\n2,66 C\n", "some in °F"),
    ],
)
def test_what_cannot_be_read_is_refused(content, words):
    with pytest.raises(LabError, match=words):
        read_thermometer(content)


def test_what_is_said_must_not_contradict_the_file():
    with pytest.raises(LabError, match="the file says °C"):
        read_thermometer(PLAIN, unit="°F")
    with pytest.raises(LabError, match="Say “°C” or “°F”"):
        read_thermometer(PLAIN, unit="K")
    with pytest.raises(LabError, match="Say “s”"):
        read_thermometer("time,temp °C\n0,75\n1,70\n2,66\n", time_unit="days")
