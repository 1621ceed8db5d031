"""Reading a recording: the file of a telephone or logger, a WAV file."""

from __future__ import annotations

import os
import stat
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from isolator.columns import EMPTY, Column, Layout, column, layout
from isolator.recording import LEAST, Recording, enough, joined, kept, plausible, stated_rate
from isolator.units import (
    ACCELERATION,
    DURATION,
    G0,
    FloatArray,
    Given,
    InputError,
    clipped,
    refuse_other,
)

if TYPE_CHECKING:
    import pandas

MOST = 5_000_000
"""Samples that are held in memory at once; a longer file is read in blocks."""

ROWS = 262_144
"""Samples of a block."""

AT_REST = 0.03
"""How near the mean of a record must be to gravity to tell its unit."""

HEAD = 200
"""Lines in which a file shows how it is written."""

LONGEST_LINE, MOST_COLUMNS = 20_000, 200
"""Longer lines and more columns than any logger writes. [bytes, -]"""


def read_recording(
    path: str | os.PathLike[str],
    *,
    rate: Given | None = None,
    unit: Given | None = None,
    time: str | None = None,
    time_unit: Given | None = None,
    channels: Sequence[str] | None = None,
    full_scale: Given | None = None,
    progress: Callable[[float], None] | None = None,
) -> Recording:
    """Read the file of a telephone or logger, or a WAV file.

    Separator, decimal sign, columns and units are guessed and reported in `guessed`; what is
    stated here is not guessed. Rows that lack a number are left out and counted.

    Parameters
    ----------
    path : path
        Ends in .wav, or is a text with a row for each sample.
    rate : text or quantity [frequency], optional
        Samples a second, of a file without a time column; beside one it must agree with it.
    unit : text or quantity [acceleration], optional
        What one stands for: "1 g0", "1 m/s**2", "0.001 g0".
    time : str, optional
        Heading of the time column; "none" to ignore it.
    time_unit : text or quantity [time], optional
        What one stands for: "1 ms".
    channels : headings, optional
        Of the accelerations.
    full_scale : text or quantity [acceleration], optional
        Of a WAV file: what its largest value stands for.
    progress : function of a number, optional
        Called with the share that is read, 0 to 1.

    Raises
    ------
    InputError
        No such file, empty, one column, text in numbers, time that stands or goes back, a unit
        or rate that cannot be, more than `MOST` samples.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "log.csv"
    ...     rows = "".join(f"{k * 10};0,0;0,0;1,0\\n" for k in range(50))
    ...     _ = file.write_text("time (ms);x (g);y (g);z (g)\\n" + rows, encoding="utf-8")
    ...     got = read_recording(file)
    >>> round(got.rate, 6), got.names, round(float(got.acceleration[0, 2]), 3)
    (100.0, ('x', 'y', 'z'), 9.807)
    """
    parts: list[Recording] = []
    count = 0
    stated: dict[str, Any] = {"rate": rate, "unit": unit, "time": time, "time_unit": time_unit}
    for part in read_blocks(
        path, **stated, channels=channels, full_scale=full_scale, progress=progress
    ):
        parts.append(part)
        count += len(part.time)
        if count > MOST:
            raise InputError(
                f"{part.source}: more than {MOST} samples; look at a part of it, or at all of it "
                "as a trip, which is read in blocks (trip_record, isolator bench trip)"
            )
    return joined(parts)


def read_blocks(
    path: str | os.PathLike[str],
    *,
    rate: Given | None = None,
    unit: Given | None = None,
    time: str | None = None,
    time_unit: Given | None = None,
    channels: Sequence[str] | None = None,
    full_scale: Given | None = None,
    rows: int = ROWS,
    progress: Callable[[float], None] | None = None,
) -> Iterator[Recording]:
    """The same file a block at a time, on one clock, so that memory does not grow with it.

    Parameters and errors as of `read_recording`; `rows` is the length of a block.
    """
    refuse_other("path", path, str | os.PathLike, "the path of a CSV or WAV file")
    file = Path(path)
    _plain(file)
    hertz = None if rate is None else stated_rate(rate)
    if file.suffix.lower() == ".wav":
        yield from _wav(file, full_scale, rate, unit, rows, progress)
        return
    if full_scale is not None:
        raise InputError(
            "full_scale belongs to a WAV file; of a table state the unit, as in unit='1 g0'"
        )
    lines, encoding = _decoded(_head(file), file.name)
    plan = _Plan.of(layout(lines, file.name), file.name, time, channels, hertz)
    one = None if unit is None else ACCELERATION.read(unit, "unit")
    second = None if time_unit is None else DURATION.read(time_unit, "time_unit")
    yield from _table(file, encoding, plan, hertz, one, second, rows, progress)


def _plain(file: Path) -> None:
    """Refuse what is no plain file: a pipe or a device may never end."""
    try:
        kind = file.stat().st_mode
    except FileNotFoundError:
        raise InputError(f"{file!s:.80}: no such file; give a CSV or WAV file") from None
    except (OSError, ValueError) as error:  # a name with a NUL is a ValueError
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{str(file)!r:.80}: not readable ({reason}); check the path") from None
    if not stat.S_ISREG(kind):
        raise InputError(f"{file!s:.80}: not a plain file; give a CSV or WAV file")


def _head(file: Path) -> list[bytes]:
    """The first lines of a file, none of them so long that it would fill the memory."""
    with file.open("rb") as raw:
        head = list(islice(iter(partial(raw.readline, LONGEST_LINE + 1), b""), HEAD))
    if any(len(line) > LONGEST_LINE for line in head):
        raise InputError(
            f"{file.name}: a line of more than {LONGEST_LINE} bytes; give a text with a row for "
            "each sample, or a WAV file"
        )
    return head


def _decoded(head: Sequence[bytes], name: str) -> tuple[list[str], str]:
    if b"\0" in b"".join(head):
        raise InputError(f"{name}: not a text; give a CSV file, saved as UTF-8, or a WAV file")
    for encoding in ("utf-8-sig", "latin-1"):
        try:
            return [line.decode(encoding) for line in head], encoding
        except UnicodeDecodeError:
            continue
    raise AssertionError("latin-1 reads every byte")


@dataclass(frozen=True)
class _Plan:
    """Which columns of a file are what."""

    layout: Layout
    time: Column | None
    channels: tuple[Column, ...]
    guessed: tuple[str, ...]

    @classmethod
    def of(
        cls,
        shape: Layout,
        name: str,
        time: str | None,
        channels: Sequence[str] | None,
        hertz: float | None,
    ) -> _Plan:
        if len(shape.names) > MOST_COLUMNS:
            raise InputError(
                f"{name}: {len(shape.names)} columns, at most {MOST_COLUMNS} can be used; leave "
                "some out"
            )
        known = [column(heading) for heading in shape.names]
        for wanted in [*(channels or ()), *([time] if time not in (None, "none") else [])]:
            if wanted not in shape.names:
                raise InputError(
                    f"{name}: no column {clipped(wanted)}; "
                    f"it has {', '.join(map(clipped, shape.names))}"
                )
        if not shape.headed and channels is None:
            known = _unheaded(known, name, hertz)
        clock = next((c for c in known if c.role == "time" and c.factor), None)
        clock = clock or next((c for c in known if c.role == "time"), None)
        if time is not None:
            clock = next((replace(c, role="time") for c in known if c.name == time), None)
        told = [c for c in known if c.role == "acceleration" and c is not clock]
        if channels is not None:
            told = [replace(c, channel=c.channel or c.name) for c in known if c.name in channels]
        one = len(shape.names) == 1
        if clock is None and hertz is None:
            raise InputError(
                f"{name}: {'one column' if one else 'no column of time'}; state the rate, as in "
                "rate='100 Hz', or give a time for each sample in a column headed 'time [s]'"
            )
        if not told:
            raise InputError(
                f"{name}: no column of acceleration among "
                f"{', '.join(map(clipped, shape.names))}; name them, as in channels=['column 2']"
            )
        said = [
            f"columns parted by {shape.separator!r}, decimals by {shape.decimal!r}",
            "no time column" if clock is None else f"time in {clipped(clock.name)}",
            "acceleration in " + ", ".join(f"{clipped(c.name)} ({c.channel})" for c in told),
        ]
        left = [c.name for c in known if c.role == "other"]
        said += [f"not used: {', '.join(map(clipped, left))}"] if left else []
        return cls(shape, clock, tuple(told), tuple(said))


def _unheaded(known: Sequence[Column], name: str, hertz: float | None) -> list[Column]:
    count = len(known) - (hertz is None)
    if count > 3:
        raise InputError(
            f"{name}: {len(known)} columns without headings; name those of acceleration, "
            "as in channels=['column 2', 'column 3']"
        )
    first = [] if hertz is not None else [replace(known[0], role="time")]
    if len(known) == 1 and first:
        return list(known)
    rest = known[len(first) :]
    axes = ("x", "y", "z") if len(rest) > 1 else ("acceleration",)
    pairs = zip(rest, axes, strict=False)
    return first + [replace(c, role="acceleration", channel=axis) for c, axis in pairs]


def _table(
    file: Path,
    encoding: str,
    plan: _Plan,
    hertz: float | None,
    unit: float | None,
    second: float | None,
    rows: int,
    progress: Callable[[float], None] | None,
) -> Iterator[Recording]:
    import pandas as pd

    shape, size = plan.layout, file.stat().st_size
    with file.open("rb") as raw:
        reader: Iterator[pandas.DataFrame] | None = None
        reading: _Reading | None = None
        line = shape.skip + 1
        while True:
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    reader = reader or pd.read_csv(
                        raw,
                        sep=shape.separator,
                        decimal=shape.decimal,
                        skiprows=shape.skip,
                        header=None,
                        names=list(shape.names),
                        chunksize=rows,
                        encoding=encoding,
                        encoding_errors="replace",  # a sign that the head has not foretold
                        skipinitialspace=True,
                        na_values=[word for word in EMPTY if word],
                        index_col=False,
                    )
                    table = next(reader)
            except StopIteration:
                break
            except pd.errors.ParserError as error:
                raise InputError(
                    f"{file.name}: {str(error).strip()}; give each row as many fields"
                ) from None
            if table.empty:
                raise _shorter(file)
            reading = reading or _Reading.of(table, plan, file.name, hertz, unit, second)
            yield reading.block(table, line)
            line += len(table)
            if progress is not None:
                progress(min(1.0, raw.tell() / size))


def _shorter(file: Path) -> InputError:
    return InputError(
        f"{file.name}: it became shorter while it was read; wait until whatever writes it is done, "
        "or give a copy of it"
    )


def _numbers(table: pandas.DataFrame, name: str, file: str, line: int) -> npt.NDArray[Any]:
    import pandas as pd

    values = table[name]
    if values.dtype.kind in "if":
        return values.to_numpy()
    made = pd.to_numeric(values, errors="coerce")
    wrong = np.flatnonzero((made.isna() & values.notna()).to_numpy())
    if wrong.size:
        at = int(wrong[0])
        raise InputError(
            f"{file}, row {line + at}: {str(values.iloc[at])!r:.40} in column {name!r} is no "
            "number; mend it, or leave the field empty"
        )
    return made.to_numpy(dtype=float)


def _clock(table: pandas.DataFrame, plan: _Plan, file: str, line: int) -> tuple[Any, bool]:
    """The time column as it stands, or in seconds where it is a date or time of day."""
    import pandas as pd

    assert plan.time is not None
    name = plan.time.name
    text = plan.layout.first[plan.layout.names.index(name)]
    if not text.count(":") and not text.count("-") > 1 and not text.count("/"):
        return _numbers(table, name, file, line), False
    values = table[name].astype(str)
    try:
        made = pd.to_timedelta(values) if len(text.split("-")) + len(text.split("/")) < 4 else None
        if made is None:
            stamps = pd.to_datetime(values, format="ISO8601", utc=True)
            made = stamps - pd.Timestamp(0, tz="UTC")
    except (ValueError, TypeError):
        raise InputError(
            f"{file}: {text!r:.40} in column {name!r} is no time that can be read; write seconds, "
            "or as 2030-01-31T12:00:00.005"
        ) from None
    return made.dt.total_seconds().to_numpy(), True


class _Reading:
    """The units of a file, from its first block, and where its clock stands."""

    def __init__(self, plan: _Plan, file: str, factors: FloatArray, second: float) -> None:
        self.plan, self.file, self.factors, self.second = plan, file, factors, second
        self.hertz: float | None = None
        self.start: Any = None
        self.last = -np.inf
        self.count = 0
        self.guessed = plan.guessed

    @classmethod
    def of(
        cls,
        table: pandas.DataFrame,
        plan: _Plan,
        file: str,
        hertz: float | None,
        unit: float | None,
        second: float | None,
    ) -> _Reading:
        said = list(plan.guessed)
        line = plan.layout.skip + 1
        a = np.column_stack([_numbers(table, c.name, file, line) for c in plan.channels])
        factors = np.array([np.nan if c.factor is None else c.factor for c in plan.channels])
        mean = a[:, :3].astype(float)
        mean = mean[np.isfinite(mean).all(axis=1)]
        with np.errstate(over="ignore", invalid="ignore"):  # too large is refused with its row
            rest = float(np.linalg.norm(mean.mean(axis=0))) if len(mean) else np.nan
        if unit is not None:
            factors = np.full(len(factors), unit)
        elif np.isnan(factors).any():
            factors, words = _guessed_unit(rest, file, len(factors))
            said.append(words)
        else:
            _not_mixed_up(rest, float(factors[0]), file)
            said.append(f"unit by its heading: one is {factors[0]:.6g} m/s²")
        made = cls(plan, file, factors, 1.0)
        made.hertz = hertz
        if plan.time is not None:
            made.second = made._guessed_time(table, said, second, hertz)
            made.hertz = None
        made.guessed = tuple(said)
        return made

    def _guessed_time(
        self,
        table: pandas.DataFrame,
        said: list[str],
        second: float | None,
        hertz: float | None,
    ) -> float:
        assert self.plan.time is not None
        t, read = _clock(table, self.plan, self.file, self.plan.layout.skip + 1)
        if len(t) < 2:
            raise InputError(f"{self.file}: {len(t)} row; give {LEAST} samples or more")
        step = float(np.nanmedian(np.diff(t)))
        told = self.plan.time.factor
        if read:
            factor, words = 1.0, "time from dates or times of day"
        elif second is not None:
            factor, words = second, f"time as stated: one is {second:g} s"
        elif told is not None:
            factor, words = told, f"time by its heading: one is {told:g} s"
        else:
            fits = [f for f in (1.0, 1e-3, 1e-6, 1e-9) if 10.0 < 1 / max(step * f, 1e-30) <= 2e4]
            factor = fits[0] if fits else 1.0
            words = f"time by its steps of {step:.4g}: one is {factor:g} s"
        said.append(words)
        if step > 0:
            own = 1 / (step * factor)
            if hertz is not None and not 0.95 < own / hertz < 1.05:
                slip = abs(np.log10(own / hertz))
                thousand = "; milliseconds read as seconds?" if 2.9 < slip < 3.1 else ""
                raise InputError(
                    f"rate = {hertz:.6g} Hz: the time column of {self.file} says {own:.6g} Hz"
                    f"{thousand}; give one of them (time='none' ignores the column), or state "
                    "time_unit='1 ms'"
                )
            plausible(np.array([0.0, 1 / own]), self.file, told=second is not None)
        return factor

    def block(self, table: pandas.DataFrame, line: int) -> Recording:
        channels = self.plan.channels
        a = np.empty((len(table), len(channels)), order="F")
        for k, c in enumerate(channels):
            a[:, k] = _numbers(table, c.name, self.file, line)
        with np.errstate(over="ignore"):
            a *= self.factors
        if self.hertz is not None:
            t = (self.count + np.arange(len(a))) / self.hertz
        else:
            stands, _ = _clock(table, self.plan, self.file, line)
            if self.start is None:
                self.start = stands[0]
            t = (stands - self.start).astype(float) * self.second
        if self.count and not t[0] > self.last:
            raise InputError(
                f"{self.file}, row {line}: time {t[0]:.9g} s does not lie after that of the row "
                f"above, {self.last:.9g} s; sort it and give each time once"
            )
        self.count, self.last = self.count + len(t), float(t[-1])
        t, a, missing = kept(t, a, self.file, line)
        linear = any(c.linear for c in channels)
        names = _own_names([c.channel for c in channels], [c.name for c in channels])
        return Recording(t, a, names, self.guessed, self.file, missing, linear)


def _own_names(short: Sequence[str], long: Sequence[str]) -> tuple[str, ...]:
    return tuple(short) if len(set(short)) == len(short) else tuple(long)


def _guessed_unit(rest: float, file: str, count: int) -> tuple[FloatArray, str]:
    for factor, name in ((1.0, "m/s²"), (G0, "g"), (G0 / 1000, "thousandths of g")):
        if abs(rest * factor / G0 - 1) < 3 * AT_REST:
            return np.full(count, factor), f"unit by its mean of {rest:.4g}, gravity in {name}"
    raise InputError(
        f"{file}: the headings have no unit and the mean, {rest:.4g}, is gravity in none; state "
        "it, as in unit='1 g0' or unit='1 m/s**2'"
    )


def _not_mixed_up(rest: float, factor: float, file: str) -> None:
    """Refuse a heading that makes gravity ten times too large or too small."""
    for true, one, wrong in ((1.0, "1 m/s**2", G0), (G0, "1 g0", 1.0)):
        if abs(factor / wrong - 1) < 1e-6 and abs(rest * true / G0 - 1) < AT_REST:
            raise InputError(
                f"{file}: with the unit of its heading its mean is {rest * factor / G0:.3g} g, "
                f"with {one} it is gravity; mixed up? State unit='{one}', or unit="
                f"'{'1 g0' if wrong == G0 else '1 m/s**2'}' if the heading is right"
            )


def _wav(
    file: Path,
    full_scale: Given | None,
    rate: Given | None,
    unit: Given | None,
    rows: int,
    progress: Callable[[float], None] | None,
) -> Iterator[Recording]:
    from scipy.io import wavfile

    if full_scale is None or unit is not None or rate is not None:
        raise InputError(
            f"{file.name}: a WAV file has its own rate and no unit; state what its "
            "largest value stands for, as in full_scale='16 g0', and leave rate and unit out"
        )
    largest = ACCELERATION.read(full_scale, "full_scale")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # chunks that are no sound
            try:
                hertz, values = wavfile.read(file, mmap=True)
            except ValueError:  # 24 bits have no type of their own
                hertz, values = wavfile.read(file)
    except Exception as error:  # a head that makes no sense ends in errors of many kinds
        reason = " ".join(str(error).split())[:80] or type(error).__name__
        raise InputError(f"{file.name}: not a WAV file that can be read ({reason})") from None
    stated_rate(f"{hertz} Hz")
    enough(len(values), 0, file.name)
    mapped = values.offset if isinstance(values, np.memmap) else None
    values = values[:, None] if values.ndim == 1 else values
    kind = values.dtype
    zero = 128.0 if kind == np.uint8 else 0.0
    scale = largest / (1.0 if kind.kind == "f" else 2.0 ** (8 * kind.itemsize - 1))
    names = tuple("xyz"[: values.shape[1]]) if values.shape[1] <= 3 else ()
    names = names or tuple(str(k + 1) for k in range(values.shape[1]))
    said = (f"{hertz} samples a second by its head, {kind} with {largest / G0:.4g} g at most",)
    for first in range(0, len(values), rows):
        part = values[first : first + rows]
        if mapped is not None:  # a file that becomes shorter would end the process
            wide = values.shape[1]
            at = mapped + first * wide * kind.itemsize
            part = np.fromfile(file, kind, part.size, offset=at)
            if part.size < wide * min(rows, len(values) - first):
                raise _shorter(file)
            part = part.reshape(-1, wide)
        with np.errstate(over="ignore", invalid="ignore"):
            a = (part.astype(float) - zero) * scale
        t = (first + np.arange(len(part))) / hertz
        t, a, missing = kept(t, a, file.name, first + 1)
        yield Recording(t, a, names, said, file.name, missing)
        if progress is not None:
            progress((first + len(part)) / len(values))
