"""The command ``reedwire`` from start to end: errors in plain words instead of tracebacks."""

from __future__ import annotations

import os
import sys
import traceback
from contextlib import suppress

from bridge.base.errors import OWN_FAULT, ManyFaultsError, UserError
from bridge.base.printable import printable

_INTERRUPTED = 130


def main() -> None:
    """Run the command line; ends the process with status 0, 1 (some of a batch failed), 2 (cannot be done) or 130.

    A standard output that takes nothing is told in one line; status 1. A fault of the program leaves a bundle that
    can be sent to those who mend it; status 70.
    """
    _fill_closed_outputs()
    try:
        # Only here: numpy and the rest take a while, and Ctrl-C meanwhile is no reason for a traceback.
        from bridge.cli.app import app
        from bridge.wiring.helper_faults import faults_told
        from bridge.wiring.log_file import LOG, session_log

        with session_log(sys.argv[1:], _complain) as recent, faults_told(recent, _complain):
            try:
                app(prog_name="reedwire")
            except UserError as error:
                LOG.error("%s", error)
                raise
            except OSError:
                # Most likely the output; where it was something else, only this tells what.
                LOG.exception("The system refused something")
                raise
            except Exception as error:  # noqa: BLE001 -- whatever it is, it is told and kept
                LOG.exception("A fault of the program")
                _tell_fault(error, recent.text())
                sys.exit(OWN_FAULT)
    except UserError as error:
        for fault in error.errors if isinstance(error, ManyFaultsError) else (error,):
            _complain(str(fault))
        sys.exit(error.exit_status)
    except KeyboardInterrupt:
        _complain("stopped.")
        sys.exit(_INTERRUPTED)
    except OSError as error:
        # What a user gives is checked where it is used, so this is the output, unless a file is named.
        where = "The output cannot be written" if error.filename is None else f"{error.filename} cannot be used"
        _complain(f"{where} ({error.strerror or error}).")
        sys.exit(1)
    finally:
        _let_output_go()


def _fill_closed_outputs() -> None:
    """Put the null device in the place of a closed standard output or error.

    The next file opened would take that place and get what is printed written into it.
    """
    for number, name in ((1, "stdout"), (2, "stderr")):
        if getattr(sys, name) is None:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            if nowhere != number:
                os.dup2(nowhere, number)
                os.close(nowhere)
            os.set_inheritable(number, True)
            setattr(sys, name, os.fdopen(number, "w", encoding="utf-8", errors="replace"))


def _complain(text: str) -> None:
    """One line on standard error, if that takes any."""
    from bridge.cli.to_width import to_width

    with suppress(OSError):
        sys.stderr.write(f"{to_width(f'reedwire: {printable(text)}', sys.stderr)}\n")
        sys.stderr.flush()


def _tell_fault(error: Exception, session: str) -> None:
    """Say that it is the program's fault and where what is known of it lies; the traceback where it lies nowhere."""
    from bridge.wiring.crash_bundle import HOLDS, add_session, without_home, write_bundle
    from bridge.wiring.log_file import state_folder

    what = f"{type(error).__name__}: {error}"
    try:
        path = write_bundle(state_folder(), error)
        add_session(path, session)
    except Exception:  # noqa: BLE001 -- a second fault must not hide the first
        traceback.print_exception(error)
        _complain(f"This is a fault of reedwire itself ({what}). Please report it with the lines above.")
        return
    _complain(f"This is a fault of reedwire itself ({what}).")
    _complain(f"What is known of it lies in {without_home(str(path))}")
    _complain(f"Please attach that to a report. It holds {HOLDS}.")


def _let_output_go() -> None:
    """Flush; where that is refused the interpreter must not try once more on its way out and complain in its words."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    main()
