"""An earlier version of a job taken back, with what was asked then."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kerfwright.adapters.enquiry_folder import ENQUIRY, EnquiryFolder
from kerfwright.adapters.versions import Version, take_back
from kerfwright.app.enquiries import Enquiry


def take_back_job(folder: Path, number: int) -> Version:
    """Put the files of an earlier version of a job back, and let its enquiry ask what it asked.

    The page computes the job anew when it is opened next, with the figures of that day.

    Parameters
    ----------
    folder : Path
        Of the job, of the page or not.
    number : int

    Raises
    ------
    UnknownNameError, FileError, InputError
        As :func:`kerfwright.adapters.versions.take_back`.
    """
    version = take_back(folder, number)
    asked = version.asked
    if asked is not None and (folder / ENQUIRY).is_file():

        def edit(now: Enquiry) -> Enquiry:
            return replace(now.asking(asked), proved_revision=0)

        EnquiryFolder(folder=folder.resolve().parent).change(folder.resolve().name, edit)
    return version
