# SPDX-License-Identifier: GPL-3.0-or-later
"""The C library: errors as exceptions, texts, arrays without copies, and how it is stopped."""
from __future__ import annotations

import json
import operator
import os
import reprlib
from typing import TYPE_CHECKING, Any, Callable, NoReturn, Optional

from ._interface import ffi, lib

if TYPE_CHECKING:
    import numpy
else:
    class _Numpy:
        """NumPy when it is needed first: most of the time that an import of this module would take."""

        def __getattr__(self, name: str) -> Any:
            import numpy as module  # pylint: disable=import-outside-toplevel

            return getattr(module, name)

    numpy = _Numpy()

# Seconds between two looks at Python while the library works, for Ctrl-C and `stop`, which is asked at the beginning as well.
WATCH_INTERVAL_S = 0.05

# Says whether to stop; hears of progress: severity, where, message.
Stop = Callable[[], bool]
Log = Callable[[str, str, str], None]


class CavumError(Exception):
    """What the library refused or could not do; the message is that of the command line.

    `status` is the name of its status code: "ERR_INPUT", "ERR_GEOMETRY", ...
    """

    def __init__(self, message: str, status: str):
        super().__init__(message)
        self.status = status


class NotConverged(CavumError):
    """The accuracy asked for was not reached; `result` is the best there is, or None."""

    result: Any = None


class Stopped(CavumError):
    """A `stop` function said so."""


def version() -> str:
    """Version of the library that runs."""
    return text_of(lib.cavum_version())


def text_of(pointer: Any) -> str:
    """A text that the library keeps."""
    return ffi.string(pointer).decode() if pointer else ""


def take_text(pointer: Any) -> str:
    """A text that the library hands over."""
    if pointer == ffi.NULL:
        raise MemoryError("out of memory")
    text = text_of(pointer)
    lib.cavum_free(pointer)
    return text


def refuse_type(expected: str, found: Any) -> NoReturn:
    """Raises what a function says of an argument that it can do nothing with."""
    plain = found is None or isinstance(found, (str, bytes, int, float, dict, list, tuple))
    what = reprlib.repr(found) if plain else "a " + type(found).__name__
    raise TypeError(f"expected {expected}, found {what}") from None


def encode_path(path: Any, expected: str = "the path of a file") -> bytes:
    """A file name as the library takes it."""
    if not isinstance(path, (str, bytes, os.PathLike)):
        refuse_type(expected, path)
    return _without_zero(os.fsencode(path))


def name_of(name: Any, expected: str) -> bytes:
    """A key or another name as the library takes it."""
    if not isinstance(name, str):
        refuse_type(expected, name)
    return _without_zero(name.encode())


def _without_zero(text: bytes) -> bytes:
    """The library would read no further."""
    if b"\0" in text:
        raise ValueError(f"a zero byte in {text!r}")
    return text


def put(struct: Any, member: str, value: Any, name: str) -> None:
    """Sets a number of a struct of the library, or says what the argument `name` should be."""
    there = getattr(struct, member)
    kind = "True or False" if isinstance(there, bool) else "a whole number" if isinstance(there, int) else "a number"
    try:
        # Whole numbers are not made of others: what is behind the point would be lost.
        setattr(struct, member, operator.index(value) if isinstance(there, int) else number_of(value, name))
    except TypeError:
        refuse_type(f"{kind} for {name}", value)
    except OverflowError:
        raise ValueError(f"{name}: {value} is out of range") from None


def number_of(value: Any, name: str) -> float:
    """A number as the library takes it; text is none."""
    try:
        if not isinstance(value, (str, bytes)):
            return float(value)
    except (TypeError, ValueError):
        pass
    return refuse_type(f"a number for {name}", value)


def function_of(value: Any, name: str) -> Any:
    """A function of the user, or None."""
    if value is not None and not callable(value):
        refuse_type(f"a function for {name}", value)
    return value


def json_of(tree: Any) -> bytes:
    """A dictionary of keys as text; numbers and arrays of NumPy and paths are welcome."""
    return json.dumps(tree, default=_plain, ensure_ascii=False).encode()


def _plain(value: Any) -> Any:
    if isinstance(value, os.PathLike):
        return os.fspath(value)
    if hasattr(value, "tolist"):  # of NumPy
        return value.tolist()
    if hasattr(value, "__float__"):  # a Figure
        return float(value)
    return refuse_type("numbers, texts, lists and dictionaries", value)


def new_error() -> Any:
    return ffi.new("cavum_error *")


def address_of(pointer: Any) -> int:
    """Where a pointer of cffi points, for what is not of cffi."""
    return int(ffi.cast("uintptr_t", pointer))


def raise_error(status: int, error: Any, best: Any = None) -> None:
    """Raises what a call came back with, NotConverged with the best there is; nothing when it is CAVUM_OK."""
    if status != lib.CAVUM_OK:
        raise_status(status, text_of(error.message), best)


def raise_status(status: int, message: str, best: Any = None) -> None:
    """The same of a status that is not CAVUM_OK."""
    name = ffi.typeof("cavum_status").elements.get(status, str(status))
    message = message or text_of(lib.cavum_status_text(status))
    if status == lib.CAVUM_ERR_MEMORY:
        raise MemoryError(message)
    kinds = {lib.CAVUM_ERR_NOT_CONVERGED: NotConverged, lib.CAVUM_ERR_STOPPED: Stopped}
    exception = kinds.get(status, CavumError)(message, name.replace("CAVUM_", "", 1))
    if isinstance(exception, NotConverged):
        exception.result = best
    raise exception


def array_of(owner: Any, pointer: Any, count: int) -> numpy.ndarray:
    """Numbers of the library as a read-only array, without a copy; it keeps their owner alive."""
    if pointer == ffi.NULL or count == 0:
        return numpy.empty(0)
    # The buffer keeps this pointer alive, and that its owner.
    held = ffi.gc(pointer, lambda _, owner=owner: None)
    array = numpy.frombuffer(ffi.buffer(held, count * ffi.sizeof("double")), dtype=numpy.float64)
    array.flags.writeable = False
    return array


def pointer_to(array: numpy.ndarray) -> Any:
    """The numbers of an array of doubles, for the library to read or fill."""
    return ffi.cast("double *", ffi.from_buffer(array))


class Watch:
    """What the library asks as it works: whether to stop, and who hears of its progress.

    Exceptions in the functions of the user, Ctrl-C among them, end the work and are raised then.
    """

    def __init__(self, stop: Optional[Stop] = None,
                 heard: Optional[Log] = None):
        self.stop, self.heard = function_of(stop, "stop"), function_of(heard, "log")
        self.exception: Optional[BaseException] = None
        self.handle = ffi.new_handle(self)
        self.watch = ffi.new("python_watch *", {"interval_s": WATCH_INTERVAL_S, "self": self.handle,
                                                 "at_once": self.stop is not None})

    def put_into(self, options: Any) -> None:
        """Sets the members `stop` and `log` of any options of the library."""
        options.stop, options.stop_data = ffi.addressof(lib, "cavum_watch_asks"), self.watch
        if self.heard:
            options.log, options.log_data = lib.python_hears, self.handle

    def begin(self) -> None:
        self.watch.next_s, self.exception = 0.0, None

    def end(self) -> None:
        """Raises what a function of the user raised."""
        if self.exception is not None:
            exception, self.exception, self.watch.raised = self.exception, None, False
            raise exception

    def keep(self, exception: BaseException) -> None:
        self.exception, self.watch.raised = self.exception or exception, True


def _keep_exception(exception, value, traceback):
    del exception
    handle = traceback.tb_frame.f_locals.get("handle") if traceback else None
    if handle is not None:
        ffi.from_handle(handle).keep(value)


# Ctrl-C is raised by Python here, at the first line that runs.
@ffi.def_extern(error=True, onerror=_keep_exception)
def python_asked_to_stop(handle):
    watch = ffi.from_handle(handle)
    return watch.exception is not None or (watch.stop is not None and bool(watch.stop()))


@ffi.def_extern(onerror=_keep_exception)
def python_hears(severity, where, message, handle):
    watch = ffi.from_handle(handle)
    if watch.exception is None:
        watch.heard(("progress", "note", "warning")[severity], text_of(where), text_of(message))
