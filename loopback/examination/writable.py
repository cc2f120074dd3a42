"""An examination whose document may be replaced: under the lock, read again first, in one go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from loopback.examination.atomic import write_over
from loopback.examination.described import Reworded, reworded, with_words
from loopback.examination.document import RECORDINGS, encode_examination
from loopback.examination.lock import writer_lock
from loopback.examination.records import Examination
from loopback.examination.stored import DOCUMENT, StoredExamination, load_document


class WritableExamination(StoredExamination):
    """What every way of changing a document goes through."""

    def describe(self, words: Mapping[str, str]) -> tuple[Reworded, ...]:
        """Note words about the item and the conditions; recordings and runs stay as they are.

        Parameters
        ----------
        words : mapping of str to str
            By field, see `loopback.examination.described.WORDS`; an empty text clears one.

        Returns
        -------
        tuple of Reworded
            What says something else now, with what it said before. The document keeps the new
            words only; what was published keeps those of that day.

        Raises
        ------
        ArgumentError
            If there is no such field, or a text is too long; nothing was changed then.
        FolderError
            If another program is writing, or the folder cannot be written to.
        """
        with self._writing():
            before = self._document
            after = with_words(before, words)
            if changes := reworded(before, after):
                self._store(after)
        return changes

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with writer_lock(self._path):
            self._document = load_document(self._path)
            (self._path / RECORDINGS).mkdir(exist_ok=True)
            yield

    def _store(self, document: Examination) -> None:
        write_over(self._path / DOCUMENT, [encode_examination(document)])
        self._document = document
