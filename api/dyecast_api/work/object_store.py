"""Files in an object store: S3 and what speaks like it, or whatever else the library obstore reaches.

Keys and addresses of S3 come from its usual environment variables (`AWS_ACCESS_KEY_ID`, `AWS_ENDPOINT_URL`).
"""

from dataclasses import dataclass
from typing import Any, Self

from dyecast_api.work.file_store import checked, fingerprint, relative_place
from dyecast_api.work.needed_library import needed_library
from dyecast_shared.errors import FileMissing, StoreUnavailable


@dataclass(frozen=True, slots=True, eq=False)
class ObjectFileStore:
    """A `FileStore` in one bucket, with the same names as in a folder."""

    store: Any
    obstore: Any

    @classmethod
    def at(cls, url: str) -> Self:
        """Return the store at `s3://bucket/prefix`, `gs://…`, `az://…` or `memory:///`.

        Raises StoreUnavailable for an address that nothing answers to.
        """
        obstore = needed_library("obstore", "An object store")
        try:
            return cls(needed_library("obstore.store", "An object store").from_url(url), obstore)
        except Exception as problem:
            raise StoreUnavailable(f"The object store cannot be used ({problem}).") from problem

    def keep(self, content: bytes) -> str:
        """Put the content; an object store answers only when it is safe there. See `FileStore`."""
        sha256 = fingerprint(content)
        try:
            self.obstore.put(self.store, relative_place(sha256), content)
        except self.obstore.exceptions.BaseError as problem:
            raise StoreUnavailable("The file could not be kept in the object store.") from problem
        return sha256

    def read(self, sha256: str) -> bytes:
        """See `FileStore`."""
        try:
            content = bytes(self.obstore.get(self.store, relative_place(sha256)).bytes())
        except (FileNotFoundError, self.obstore.exceptions.NotFoundError) as problem:
            raise FileMissing("A file is missing in the object store.", file=sha256) from problem
        except self.obstore.exceptions.BaseError as problem:
            raise StoreUnavailable("The object store could not be read.", file=sha256) from problem
        return checked(content, sha256)

    def has(self, sha256: str) -> bool:
        """See `FileStore`; raises StoreUnavailable."""
        try:
            self.obstore.head(self.store, relative_place(sha256))
        except (FileNotFoundError, self.obstore.exceptions.NotFoundError):
            return False
        except self.obstore.exceptions.BaseError as problem:
            raise StoreUnavailable("The object store could not be read.", file=sha256) from problem
        return True

    def drop(self, sha256: str) -> None:
        """See `FileStore`; raises StoreUnavailable."""
        try:
            self.obstore.delete(self.store, relative_place(sha256))
        except (FileNotFoundError, self.obstore.exceptions.NotFoundError):
            return
        except self.obstore.exceptions.BaseError as problem:
            raise StoreUnavailable("The object store could not be written.", file=sha256) from problem
