"""For all tests."""

import os
import signal

# A shell that starts a job in the background lets it ignore Ctrl-C, and Python keeps to that; the tests
# of interruption need it, in this process and in those it starts.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# Nothing is measured, and nobody's profile is read or written; the tests of it set their own.
os.environ["SIMHARNESS_PROFILE"] = ""
