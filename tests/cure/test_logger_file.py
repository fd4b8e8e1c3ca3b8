"""Loggers' files, however they are written, give the same readings; bad ones say what is wrong."""

from __future__ import annotations

import contextlib
import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from damp_box_log import damp_box_log
from hypothesis import given
from hypothesis import strategies as st

from lossfill import tolerances as tol
from lossfill.cure.logger import Log, LogSettings, log_of_text, read_log
from lossfill.cure.logger_dates import DateOrder
from lossfill.errors import InputError

DATA = Path(__file__).parent / "data"
MESHES = Path(__file__).parents[2] / "meshes"
HEAD = "Time,Temperature (°C),Humidity (%RH)\n"


def is_the_evening(log: Log) -> None:
    """The same three readings stand in every file of the folder."""
    assert log.start == dt.datetime(2025, 3, 14, 22, 0)
    assert log.hours.tolist() == [0.0, 1.0, 2.0]
    assert log.temperature_c == pytest.approx([21.5, 22.5, 22.0], abs=1e-9)
    assert log.humidity_percent == pytest.approx([68.0, 72.0, 70.0], abs=1e-9)


@pytest.mark.parametrize("file", sorted(DATA.iterdir()), ids=lambda file: file.name)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-be"])
def test_files_of_every_kind_are_read(file: Path, encoding: str, tmp_path: Path) -> None:
    is_the_evening(read_log(file))
    other = tmp_path / file.name
    mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
    other.write_bytes(mark + file.read_bytes().decode().encode(encoding))
    is_the_evening(read_log(other))


@pytest.mark.parametrize(
    ("heading", "first"),
    [
        ("Date;Time;T [°C];RH [%]", "2025-03-14;22:00;{};{}"),
        ("time\ttemperature C\trelative humidity", "2025/03/14 22:00\t{}\t{}"),
        ("Zeit;Temp(°C);Luftfeuchtigkeit(%)", "14.03.2025 22:00;{};{}"),
        ('"Date (dd/mm/yyyy)","Time","Celsius","%RH"', '"14/03/2025","22.00","{}","{}"'),
        ("Timestamp,Temp,RH", "14-Mar-2025 22:00:00,{} °C,{} %"),
        ("Timestamp,Battery,Temp ℃,Humidity,VPD", "Mar 14 2025 10:00 p.m.,3.1,{},{},0.6"),
        ("RH;Temperature,°C;Date Time", "{1};{0};14 03 2025 22:00:00"),
        ("Time,Temp min °C,Temp °C,RH", "2025-03-14 22:00Z,1.0,{},{}"),
    ],
)
def test_headings_of_every_kind_are_understood(heading: str, first: str) -> None:
    # The second line differs in its hour alone.
    second = first.replace("22:00", "23:00").replace("22.00", "23.00").replace("10:00 p", "11:00 p")
    log = log_of_text("\n".join([heading, first.format(21.5, 68), second.format(22, 70.5)]))
    assert log.start == dt.datetime(2025, 3, 14, 22, 0)
    assert log.hours.tolist() == [0.0, 1.0]
    assert log.temperature_c == pytest.approx([21.5, 22.0], abs=1e-12)
    assert log.humidity_percent == pytest.approx([68.0, 70.5], abs=1e-12)


def test_utf16_without_its_mark_is_read(tmp_path: Path) -> None:
    text = HEAD + "".join(f"2025-03-14 {hour}:00,21.5,70.0\n" for hour in range(10, 20))
    file = tmp_path / "log.csv"
    file.write_bytes(text.encode("utf-16-le"))
    assert len(read_log(file).hours) == 10


def test_a_date_that_may_be_two_days_is_asked_about() -> None:
    text = HEAD + "03/04/2025 10:00,21,70\n03/04/2025 11:00,21,70\n"
    with pytest.raises(InputError, match=r"line 2: '03/04/2025 10:00' may begin .* --dates"):
        log_of_text(text)
    day = log_of_text(text, LogSettings(dates=DateOrder.DAY_FIRST)).start
    month = log_of_text(text, LogSettings(dates=DateOrder.MONTH_FIRST)).start
    assert (day, month) == (dt.datetime(2025, 4, 3, 10), dt.datetime(2025, 3, 4, 10))
    with pytest.raises(InputError, match="does not begin with the year"):
        log_of_text(text, LogSettings(dates=DateOrder.ISO))


def test_one_date_settles_all_others() -> None:
    text = HEAD + "03/04/2025 10:00,21,70\n03/13/2025 10:00,21,70\n"
    assert log_of_text(text).start == dt.datetime(2025, 3, 4, 10)
    with pytest.raises(InputError, match="no day when read day-first"):
        log_of_text(text, LogSettings(dates=DateOrder.DAY_FIRST))


def test_offsets_from_utc_carry_over_the_change_of_clocks() -> None:
    # Clocks went back at 03:00+02:00: an hour passes, not none.
    log = log_of_text(HEAD + "2025-10-26T02:30:00+02:00,21,70\n2025-10-26T02:30:00+01:00,21,70\n")
    assert log.hours.tolist() == [0.0, 1.0]


def test_clocks_set_back_without_a_word_are_counted_on() -> None:
    rows = ["02:30", "02:50", "02:10", "02:30", "02:50", "03:10"]
    log = log_of_text(HEAD + "".join(f"2025-10-26 {time},21,70\n" for time in rows))
    assert log.hours == pytest.approx(np.arange(6) / 3.0, abs=1e-12)
    assert any("set back an hour" in words and "line 4" in words for words in log.warnings)


def test_missing_cells_and_double_times_are_left_out_and_told() -> None:
    log = log_of_text(
        HEAD + "2025-03-14 10:00,21,70\n2025-03-14 10:10,,\n2025-03-14 10:20,n/a,70\n\n"
        "2025-03-14 10:30,22,71\n2025-03-14 10:30,22,72\n2025-03-14 10:40,22,71,,\n"
    )
    assert log.hours == pytest.approx([0.0, 0.5, 2.0 / 3.0], abs=1e-12)
    assert any(words.startswith("2 lines without a reading") for words in log.warnings)
    assert any(words.startswith("1 reading with the time") for words in log.warnings)


def test_a_wet_sensor_reads_100() -> None:
    log = log_of_text(HEAD + "2025-03-14 10:00,21,103.5\n2025-03-14 11:00,21,70\n")
    assert log.humidity_percent.tolist() == [100.0, 70.0]
    assert "the sensor is wet" in " ".join(log.warnings)


def test_the_unit_is_asked_for_and_may_be_overruled() -> None:
    text = "Time,Temperature,Humidity\n2025-03-14 10:00,70,70\n2025-03-14 11:00,71,70\n"
    with pytest.raises(InputError, match="line 1: the heading does not say °C or °F"):
        log_of_text(text)
    assert log_of_text(text, LogSettings(fahrenheit=True)).temperature_c == pytest.approx(
        [(70 - 32) / 1.8, (71 - 32) / 1.8], abs=1e-12
    )
    wrong = log_of_text(
        text.replace("Temperature", "Temperature (°C)"), LogSettings(fahrenheit=True)
    )
    assert wrong.temperature_c[0] == pytest.approx(21.11, abs=0.01)
    assert "the file says °C; read as °F" in " ".join(wrong.warnings)


ROW = "2025-03-14 10:00,21,70\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no heading names a time"),
        ("just\nwords\n", "no heading names a time"),
        (HEAD, "no reading;"),
        (HEAD + ROW, "one reading;"),
        (HEAD + ROW + ROW, "the same time"),
        (HEAD + ROW + "2025-03-14 11:00,warm,70\n", "line 3: 'warm' is no temperature"),
        (HEAD + ROW + "2025-03-14 11:00,21,wet\n", "line 3: 'wet' is no humidity"),
        (HEAD + ROW + "yesterday,21,70\n", "line 3: 'yesterday' is no date and time"),
        (HEAD + ROW + "2025-02-30 11:00,21,70\n", "line 3: '2025-02-30 11:00' is no day"),
        (HEAD + ROW + "2025-03-14 25:00,21,70\n", "line 3: '2025-03-14 25:00' is no date"),
        (HEAD + ROW + "2025-03-14 13:00 PM,21,70\n", "line 3: '2025-03-14 13:00 PM' is no"),
        (HEAD + ROW + "2025-03-14 11:00,21,5,70,2\n", "line 3 has 5 cells where .* has 3"),
        (HEAD + ROW + "2025-03-14 11:00,21,130\n", "line 3: 21 °C and 130 % are no air"),
        (HEAD + ROW + "2025-03-14 11:00,210,70\n", "line 3: 210 °C and 70 % are no air"),
        (HEAD + ROW + "2025-03-14 11:00+01:00,21,70\n", "some lines give an offset"),
        (
            HEAD + ROW + "2025-03-13 11:00,21,70\n2025-03-15 11:00,21,70\n",
            "line 3: time goes back",
        ),
        (HEAD + "13/05/2025 10:00,21,70\n05/13/2025 11:00,21,70\n", "line 3: .* another order"),
        (HEAD + "x" * 5000, "line 2 is no line of a table"),
        ("\0\1\2" * 50, "line 1 is no line of a table"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_line(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        log_of_text(text)
    assert "\n" not in str(caught.value)


def test_a_file_that_is_too_large_or_not_there_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_log(tmp_path / "none.csv")
    with pytest.raises(InputError, match="cannot read"):
        read_log(tmp_path)
    monkeypatch.setattr(tol, "LOG_FILE_MAX_MB", 1e-5)
    file = tmp_path / "log.csv"
    file.write_text(HEAD + ROW, encoding="utf-8")
    with pytest.raises(InputError, match=r"log.csv holds 0 MB, more than 1e-05"):
        read_log(file)


@given(
    data=st.one_of(
        st.binary(max_size=400), st.from_regex(r"[0-9/:. TAPM,+-]{0,60}").map(str.encode)
    )
)
def test_no_bytes_stop_it_but_by_a_word(
    data: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    file = tmp_path_factory.getbasetemp() / "any.csv"
    file.write_bytes(HEAD.encode() + data)
    with contextlib.suppress(InputError):
        assert len(read_log(file).hours) >= 2


def test_the_invented_log_is_what_its_script_writes() -> None:
    text = (MESHES / "damp_box_log.csv").read_text(encoding="utf-8")
    assert text == damp_box_log()
    assert len(text) < 60_000
    assert len(log_of_text(text).hours) == 555
