"""A copy of this process that works beside it, on objects that are handed over in shared memory.

Threads of one process wait for each other's interpreter; a process of its own does not. It is a
fork, so that nothing is imported again, and arrays are handed over as they lie in memory.
"""

from __future__ import annotations

import ctypes
import gc
import mmap
import os
import pickle
import signal
import socket
import struct
import sys
import threading
import warnings
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Generic, NoReturn, TypeVar

Given = TypeVar("Given")
Result = TypeVar("Result")

_ALIGNED = 64  # byte; so that no number lies across the end of a line of the processor's cache
_END_WITH_PARENT = 1  # PR_SET_PDEATHSIG of prctl(2)
_REQUESTS = (signal.SIGINT, signal.SIGTERM)
_PLACE = struct.Struct("<QQ")
_LENGTH = struct.Struct("<Q")


class SideProcessError(Exception):
    """The process ended before it answered, or cannot be reached."""


def can_be_copied() -> bool:
    """
    Whether a copy of this process can be relied on.

    Returns
    -------
    can : bool
        False where another thread runs, which might hold a lock that nobody in the copy gives
        back, and on systems without what handing over rests on.
    """
    return sys.platform == "linux" and threading.active_count() == 1


class SideProcess(Generic[Given, Result]):
    """
    A copy of this process that applies a function to what it is given, one after the other.

    Parameters
    ----------
    function : callable
        Of one object. What it raises ends the process.

    Raises
    ------
    SideProcessError
        If the system refuses another process.

    Notes
    -----
    It ends with this process, however that ends. Ctrl-C and a request to end are for this process
    alone, which then closes it: what is under way is finished.
    """

    def __init__(self, function: Callable[[Given], Result]) -> None:
        self._here, there = socket.socketpair()
        me = os.getpid()
        # a request to end waits until the copy has said that it does not listen
        before = signal.pthread_sigmask(signal.SIG_BLOCK, _REQUESTS)
        try:
            with warnings.catch_warnings():
                # newer interpreters warn of threads; there are none but idle ones of libraries
                warnings.simplefilter("ignore", DeprecationWarning)
                self._process = os.fork()
            if self._process == 0:
                self._here.close()
                _serve(there, function, me)
        except OSError as error:
            self._here.close()
            raise SideProcessError(str(error)) from error
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
            there.close()

    def ask(self, given: Given) -> Result:
        """
        The function's result.

        Parameters
        ----------
        given : object
            Arrays in it are not copied through the interpreter, and are the function's own.

        Returns
        -------
        result : object
            Its result.

        Raises
        ------
        SideProcessError
            If there is none.
        """
        try:
            handle, place = _laid_out(given)
            with open(handle, "rb"):
                socket.send_fds(self._here, [_PLACE.pack(*place)], [handle])
            length = _received(self._here, _LENGTH.size)
            answer = _received(self._here, _LENGTH.unpack(length)[0])
        except (OSError, EOFError, MemoryError) as error:
            raise SideProcessError(str(error)) from error
        result: Result = pickle.loads(answer)
        return result

    def close(self) -> None:
        """End the process when it has done what it was given."""
        self._here.close()
        # nobody is left to wait for where this process was started to ignore how others end
        with suppress(ChildProcessError):
            os.waitpid(self._process, 0)


def _laid_out(given: Any) -> tuple[int, tuple[int, int]]:
    """Shared memory with the object, arrays first; where the rest begins, and its length."""
    arrays: list[pickle.PickleBuffer] = []
    rest = pickle.dumps(given, pickle.HIGHEST_PROTOCOL, buffer_callback=arrays.append)
    views = [array.raw() for array in arrays]
    handle = os.memfd_create("handed over")
    try:
        end, spans = 0, []
        for view in views:
            spans.append((end, view.nbytes))
            _write(handle, view)
            end += view.nbytes + _write(handle, bytes(-view.nbytes % _ALIGNED))
        tail = pickle.dumps((rest, spans))
        return handle, (end, _write(handle, tail))
    except BaseException:
        os.close(handle)
        raise


def _write(handle: int, content: bytes | memoryview) -> int:
    left = memoryview(content)
    while left.nbytes:  # one call writes 2 GB at most
        left = left[os.write(handle, left) :]
    return len(content)


def _taken_up(handle: int, place: tuple[int, int]) -> Any:
    begin, length = place
    # private: what the function writes into its arrays is seen by nobody else
    memory = mmap.mmap(handle, begin + length, mmap.MAP_PRIVATE, mmap.PROT_READ | mmap.PROT_WRITE)
    whole = memoryview(memory)
    rest, spans = pickle.loads(whole[begin:])
    return pickle.loads(rest, buffers=[whole[at : at + size] for at, size in spans])


def _received(connection: socket.socket, length: int) -> bytes:
    parts = []
    while length:
        parts.append(part := connection.recv(min(length, 1 << 20)))
        if not part:
            raise EOFError("the process ended")
        length -= len(part)
    return b"".join(parts)


def _serve(connection: socket.socket, function: Callable[[Any], Any], parent: int) -> NoReturn:
    """Answer until there is nobody left to ask; nothing of the copied program goes on here."""
    try:
        # what was copied is neither freed here nor written to, so that both share its memory
        gc.freeze()
        for each in _REQUESTS:
            signal.signal(each, signal.SIG_IGN)
        ctypes.CDLL(None).prctl(_END_WITH_PARENT, signal.SIGKILL)
        while os.getppid() == parent:
            place, handles, *_ = socket.recv_fds(connection, _PLACE.size, 1)
            if not place:
                break
            with open(handles[0], "rb"):
                given = _taken_up(handles[0], _PLACE.unpack(place))
            answer = pickle.dumps(function(given))
            del given
            connection.sendall(_LENGTH.pack(len(answer)) + answer)
    finally:
        os._exit(0)
