"""The branch of the tree of errors that belongs to requests to a shop's server; drawn in `errors`."""

from dyecast_shared.errors import DyecastError


class Refused(DyecastError):
    """A request that the shop's server does not carry out."""

    code = "refused"


class RequestInvalid(Refused):
    """A request lacks something, or says something that cannot be."""

    code = "request-invalid"
    default_advice = "Look the request up in the server's interface document, and send it again."


class SignInNeeded(Refused):
    """Nobody is signed in on this device, or its right was taken away."""

    code = "sign-in-needed"
    default_advice = "Pair the phone by the owner's QR code, or sign in with the passphrase."


class PassphraseWrong(Refused):
    """The passphrase is not the shop's."""

    code = "passphrase-wrong"
    default_advice = "Try again; the computer that runs the server can make a new one."


class PairingUnusable(Refused):
    """The pairing code is unknown, was used already, or is older than five minutes."""

    code = "pairing-unusable"
    default_advice = "Ask the owner to show a new QR code, and scan it within five minutes."


class OwnerNeeded(Refused):
    """Only the owner may do this."""

    code = "owner-needed"
    default_advice = "Sign in with the owner's passphrase."


class ForeignOrigin(Refused):
    """Another site asked for this in the user's name, and nothing was done."""

    code = "foreign-origin"
    default_advice = "Open the server's own page and do it there."


class NotFound(Refused):
    """There is nothing at this address, or it belongs to another shop."""

    code = "not-found"
    default_advice = "Go back to the list and choose from there."


class MethodNotAllowed(Refused):
    """The address knows no such request."""

    code = "method-not-allowed"
    default_advice = "The header Allow names the requests it knows."


class NameTaken(Refused):
    """The shop has something else of this name."""

    code = "name-taken"
    default_advice = "Choose another name."


class NotFinished(Refused):
    """The inspection is still waiting or being made."""

    code = "not-finished"
    default_advice = "Wait for its verdict, then try again."


class UploadTooLarge(Refused):
    """What was sent holds more bytes than the server takes."""

    code = "upload-too-large"
    default_advice = "Send the photo as the phone's camera made it, one at a time."


class UploadTooSlow(Refused):
    """What was sent took longer to arrive than the server waits."""

    code = "upload-too-slow"
    default_advice = "Go nearer to the network's antenna, and send it again."


class TooManyRequests(Refused):
    """Too many requests came from one device in a short time."""

    code = "too-many-requests"
    default_advice = "Wait a minute, then try again."


class ServerFault(DyecastError):
    """Something went wrong inside the server; the photo that was accepted is safe."""

    code = "server-fault"
    default_advice = "Try again; the server's log tells more under the request's number."


class ServerUnreachable(DyecastError):
    """The shop's server did not answer, or not in a way that can be read."""

    code = "server-unreachable"
    default_advice = "Check the address, and that the server is running."
