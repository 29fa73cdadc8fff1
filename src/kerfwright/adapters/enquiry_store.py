"""Enquiries in their folders, listed from an index.

The folders come first: what is kept in them is kept, whether the index could be told or not.  It
catches up by itself with whatever it missed.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from kerfwright.adapters import sealed_jobs
from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.adapters.index.job_index import JobIndex
from kerfwright.adapters.index.opening import IndexFaultError
from kerfwright.adapters.index.query import Alike, Listed, Query
from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import KerfwrightError

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class EnquiryStore(EnquiryFolder):
    """A folder of enquiries with an index.

    Attributes
    ----------
    index : JobIndex
        Of the same folder.
    """

    index: JobIndex

    def add(self, name: str, content: bytes, *, added: datetime) -> Enquiry:
        """Keep a drawing that came in as a new enquiry, see :meth:`EnquiryFolder.add`."""
        enquiry = EnquiryFolder.add(self, name, content, added=added)
        self._tell(enquiry)
        return enquiry

    def save(self, enquiry: Enquiry) -> None:
        """Write an enquiry, see :meth:`EnquiryFolder.save`."""
        EnquiryFolder.save(self, enquiry)
        self._tell(enquiry)

    def remove(self, enquiry_id: str) -> Path:
        """Move an enquiry aside, see :meth:`EnquiryFolder.remove`."""
        place = EnquiryFolder.remove(self, enquiry_id)
        try:
            self.index.drop([enquiry_id])
        except IndexFaultError as fault:
            self._missed(fault)
        return place

    def bring_back(self, name: str) -> str:
        """Put an enquiry back, see :meth:`EnquiryFolder.bring_back`."""
        enquiry_id = EnquiryFolder.bring_back(self, name)
        # A job whose file cannot be read is back all the same: the next look says what is wrong.
        self.index.look_again()
        return enquiry_id

    def seal(self, enquiry_id: str, passphrase: str | None) -> None:
        """Seal a job, see :func:`kerfwright.adapters.sealed_jobs.seal`.

        Raises
        ------
        InputError, FileError
        IndexFaultError
            Where the job is sealed, but the index could not forget it.
        """
        sealed_jobs.seal(self.folder, self.place_of(enquiry_id), passphrase)
        self.index.forget(enquiry_id)

    def unseal(self, enquiry_id: str, passphrase: str, *, for_good: bool = False) -> None:
        """Open a sealed job, for now or for good.

        Raises
        ------
        UnknownNameError, InputError, FileError
            See :func:`kerfwright.adapters.sealed_jobs.open_sealed`.
        """
        act = sealed_jobs.unseal_for_good if for_good else sealed_jobs.open_sealed
        act(self.folder, enquiry_id, passphrase)
        self.index.look_again()

    def _tell(self, enquiry: Enquiry) -> None:
        if sealed_jobs.is_opened(self.folder / enquiry.id):
            return
        try:
            self.index.put([enquiry])
        except IndexFaultError as fault:
            self._missed(fault)

    def _missed(self, fault: IndexFaultError) -> None:
        self.index.look_again()
        _LOG.warning("the job is kept, but its index was not told: %s", fault)

    def listed(self, query: Query) -> Listed:
        """Return the jobs that a query wants, as the folders have them.

        An embedded index that is damaged is built anew, which is said in the log.

        Raises
        ------
        IndexFaultError
            If the index does not answer.
        """
        try:
            return self._listed(query)
        except IndexFaultError as fault:
            if fault.code != "index-damaged" or not self.index.is_embedded:
                raise
            _LOG.warning("%s Built anew from the folders.", fault.message)
            self.index.rebuild()
            return self._listed(query)

    def alike(self, enquiry: Enquiry) -> Alike:
        """Return other jobs of the same part; none where the index does not answer."""
        try:
            return self.index.alike(enquiry)
        except IndexFaultError as fault:
            # The job itself is whole; the list says that its index does not answer.
            _LOG.warning("jobs of the same part are not known: %s", fault)
            return Alike()

    def ready_index(self) -> None:
        """Open the index and let it catch up, so that the first list need not wait for that."""
        try:
            self.listed(Query(most=1))
        except KerfwrightError as fault:
            _LOG.warning("%s", fault)

    def _listed(self, query: Query) -> Listed:
        self.index.catch_up_at_times()
        return self.index.listed(query)


def open_store(folder: Path, *, url: str | None = None) -> EnquiryStore:
    """Return the store of a folder of jobs; the index is opened when it is first asked.

    Parameters
    ----------
    folder : Path
    url : str or None
        Where the index is, see :func:`kerfwright.adapters.index.opening.url_of`.
    """
    return EnquiryStore(folder=folder, index=JobIndex(folder=EnquiryFolder(folder=folder), url=url))
