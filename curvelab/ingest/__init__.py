"""Any bench's file of readings -> sweeps, with what was understood, guessed and set aside."""

from curvelab.ingest.decode import MAX_BYTES
from curvelab.ingest.own_form import write_sweep
from curvelab.ingest.reader import FileReading, read_file
from curvelab.ingest.settle import ExpectedCurrent

__all__ = ["MAX_BYTES", "ExpectedCurrent", "FileReading", "read_file", "write_sweep"]
