"""A trusted time: the token of a time-stamping authority (RFC 3161) on the hash of a seal.

The token is a file that the user brings; nothing is fetched. What is verified: that it stamps
the hash, that its signature is made with the certificate inside it, and that this certificate
is meant for time stamping and was valid then. Whether the authority deserves trust is not
judged here: name and fingerprint of its certificate are told.
Needs the extra `trusted-time` (asn1crypto and cryptography).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

LARGEST_BYTES = 200_000
_HASHES = ("sha256", "sha384", "sha512")


class TokenRefused(ValueError):
    """The token does not stamp the seal, or cannot be verified; the message says why."""


class LibraryMissing(Exception):
    """asn1crypto or cryptography is not installed."""


@dataclass(frozen=True)
class Stamp:
    """What a verified token says."""

    time: str
    """UTC, as `2031-03-03T07:22:31+00:00`."""
    authority: str
    certificate_sha256: str
    hash: str
    """The hash that was stamped, hexadecimal."""


def verify_token(token: bytes, hashes: Mapping[str, str]) -> Stamp:
    """What the token says, when it stamps one of `hashes` (SHA-256, hexadecimal) and its signature holds.

    `token` is a time-stamp response or the bare token (DER). Raises TokenRefused; LibraryMissing
    when the libraries of the extra are absent.
    """
    try:
        from asn1crypto import cms, tsp
    except ImportError:
        raise LibraryMissing from None
    if len(token) > LARGEST_BYTES:
        raise TokenRefused("it is larger than any token")
    try:
        signed = _signed_data(token, tsp, cms)
        content = signed["encap_content_info"]["content"]
        if signed["encap_content_info"]["content_type"].native != "tst_info":
            raise TokenRefused("it is no time-stamp token")
        told = content.parsed
        stamped = _stamped(told, hashes)
        if len(signed["signer_infos"]) != 1:
            raise TokenRefused("it is not signed by exactly one authority")
        signer = signed["signer_infos"][0]
        certificate = _certificate(signed, signer)
        _verify_attributes(signer, content.contents, certificate)
        _verify_signature(signer, certificate)
        time = told["gen_time"].native
        _verify_purpose(certificate, time)
    except TokenRefused:
        raise
    except Exception as error:
        # A parser of untrusted bytes: whatever it stumbles over, the token is none.
        raise TokenRefused(f"it cannot be read as a time-stamp token ({type(error).__name__})") from None
    return Stamp(
        time=time.isoformat(),
        authority=certificate.subject.human_friendly,
        certificate_sha256=hashlib.sha256(certificate.dump()).hexdigest(),
        hash=stamped,
    )


def _signed_data(token: bytes, tsp: Any, cms: Any) -> Any:
    try:
        response = tsp.TimeStampResp.load(token, strict=True)
        status = response["status"]["status"].native
        if status not in ("granted", "granted_with_mods"):
            raise TokenRefused(f"the authority did not grant it ({status})")
        info = response["time_stamp_token"]
    except (ValueError, TypeError):
        info = cms.ContentInfo.load(token, strict=True)
    if info["content_type"].native != "signed_data":
        raise TokenRefused("it is no time-stamp token")
    return info["content"]


def _stamped(told: Any, hashes: Mapping[str, str]) -> str:
    imprint = told["message_imprint"]
    stamped = imprint["hashed_message"].native.hex()
    if imprint["hash_algorithm"]["algorithm"].native != "sha256" or stamped not in hashes:
        raise TokenRefused(f"it stamps another hash ({stamped[:16]}…), not that of the seal or of a revision")
    return stamped


def _certificate(signed: Any, signer: Any) -> Any:
    wanted = signer["sid"]
    for choice in signed["certificates"]:
        certificate = choice.chosen
        if wanted.name == "issuer_and_serial_number":
            named = wanted.chosen
            same = certificate.issuer == named["issuer"] and certificate.serial_number == named["serial_number"].native
        else:
            same = certificate.key_identifier == wanted.chosen.native
        if same:
            return certificate
    raise TokenRefused("it does not hold the certificate of its signer; ask the authority for a token that does")


def _verify_attributes(signer: Any, content: bytes, certificate: Any) -> None:
    """The signed attributes bind content and certificate to the signature (RFC 5652 5.4, RFC 5816)."""
    attributes = {item["type"].native: item["values"] for item in signer["signed_attrs"]}
    algorithm = signer["digest_algorithm"]["algorithm"].native
    if algorithm not in _HASHES:
        raise TokenRefused(f"it uses {algorithm}, which is no longer trusted")
    if attributes["message_digest"][0].native != hashlib.new(algorithm, content).digest():
        raise TokenRefused("its content is not what was signed")
    if attributes["content_type"][0].native != "tst_info":
        raise TokenRefused("it is no time-stamp token")
    if "signing_certificate_v2" in attributes:
        named = attributes["signing_certificate_v2"][0]["certs"][0]
        method, expected = named["hash_algorithm"]["algorithm"].native, named["cert_hash"].native
    elif "signing_certificate" in attributes:
        method, expected = "sha1", attributes["signing_certificate"][0]["certs"][0]["cert_hash"].native
    else:
        raise TokenRefused("it does not say which certificate signed it")
    if hashlib.new(method, certificate.dump(), usedforsecurity=False).digest() != expected:
        raise TokenRefused("the certificate inside is not the one that signed it")


def _verify_signature(signer: Any, certificate: Any) -> None:
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives import hashes
        from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa
        from cryptography.hazmat.primitives.serialization import load_der_public_key
    except ImportError:
        raise TokenRefused("the library cryptography is not installed") from None
    key = load_der_public_key(certificate.public_key.dump())
    algorithm = signer["signature_algorithm"]
    name = algorithm.hash_algo if algorithm["algorithm"].native not in ("rsassa_pkcs1v15", "ecdsa") else None
    name = name or signer["digest_algorithm"]["algorithm"].native
    if name not in _HASHES:
        raise TokenRefused(f"it is signed with {name}, which is no longer trusted")
    used = getattr(hashes, name.upper())()
    signed, signature = signer["signed_attrs"].untag().dump(), signer["signature"].native
    try:
        if isinstance(key, rsa.RSAPublicKey) and algorithm.signature_algo == "rsassa_pkcs1v15":
            key.verify(signature, signed, padding.PKCS1v15(), used)
        elif isinstance(key, ec.EllipticCurvePublicKey):
            key.verify(signature, signed, ec.ECDSA(used))
        else:
            raise TokenRefused(f"its signature ({algorithm['algorithm'].native}) is of a kind not verified here")
    except InvalidSignature:
        raise TokenRefused("its signature does not hold") from None


def _verify_purpose(certificate: Any, time: Any) -> None:
    usage = certificate.extended_key_usage_value
    if usage is None or usage.native != ["time_stamping"]:
        raise TokenRefused("the certificate that signed it is not one for time stamping")
    if not certificate.not_valid_before <= time <= certificate.not_valid_after:
        raise TokenRefused("the certificate that signed it was not valid at that time")
