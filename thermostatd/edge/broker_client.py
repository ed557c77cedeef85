"""One MQTT client made from the house's `[broker]` table, and what its failures mean in plain words.

Rules: files are read anew for every connection, so mending one mends the next try; certificates are
always checked, TLS 1.2 or newer; every failure becomes a sentence that says what to look at.
"""

from __future__ import annotations

import socket
import ssl
from dataclasses import dataclass
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from thermostatd.core.house import Broker
from thermostatd.core.said import said

LARGEST_PACKET_BYTES = 16 * 1024 * 1024  # the broker drops what is larger, so nobody can fill our memory


@dataclass(frozen=True, slots=True)
class Will:
    """What the broker publishes for us when we die without a word."""

    topic: str
    payload: str
    retain: bool = False
    qos: int = 1


def client_for(broker: Broker, client_id: str, will: Will | None, *, five: bool) -> paho.Client:
    """A fresh client, MQTT 5 or 3.1.1, not yet connected. Raises OSError where a file cannot be read."""
    version = MQTTProtocolVersion.MQTTv5 if five else MQTTProtocolVersion.MQTTv311
    client = paho.Client(
        CallbackAPIVersion.VERSION2,
        client_id,
        protocol=version,
        clean_session=None if five else True,
        reconnect_on_failure=False,
    )
    client.suppress_exceptions = True
    client.max_queued_messages_set(200)
    if broker.user is not None:
        client.username_pw_set(broker.user, _password(broker.password_file))
    if broker.tls is not None:
        client.tls_set_context(_tls_context(broker))
    if will is not None:
        client.will_set(will.topic, will.payload, qos=will.qos, retain=will.retain)
    return client


def connect(client: paho.Client, broker: Broker, keepalive_seconds: int, *, five: bool) -> None:
    """Opens the connection (at most 5 s for the network, 5 s for TLS); the broker's answer comes later."""
    if not five:
        client.connect(broker.host, broker.port, keepalive_seconds)
        return
    limits = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    limits.MaximumPacketSize = LARGEST_PACKET_BYTES
    client.connect(broker.host, broker.port, keepalive_seconds, clean_start=True, properties=limits)


def expiring(seconds: int) -> Properties:
    """MQTT 5 properties of a message that the broker throws away after some seconds."""
    properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
    properties.MessageExpiryInterval = seconds
    return properties


def sentence_of_fault(fault: BaseException, broker: Broker) -> str:
    """What a failed try to connect means, and what to look at."""
    place = f"{broker.host}:{broker.port}"
    if isinstance(fault, ssl.SSLCertVerificationError):
        why = fault.verify_message
        return said(
            "The certificate of the broker at {place} is not trusted ({why}): check [broker] tls.ca.",
            place=place, why=why,
        )  # fmt: skip
    if isinstance(fault, ssl.SSLError):
        return said(
            "No TLS connection to the broker at {place} ({why}): check [broker] port and tls.",
            place=place, why=str(fault.reason),
        )  # fmt: skip
    if isinstance(fault, _Unreadable):
        return str(fault)
    if isinstance(fault, ConnectionRefusedError):
        return said("Nobody listens at {place}: is the broker running, and are host and port right?", place=place)
    if isinstance(fault, TimeoutError):
        return said("The broker at {place} does not answer: is that machine on, and the network up?", place=place)
    if isinstance(fault, socket.gaierror):
        return said('The name "{host}" is not known on the network: check [broker] host.', host=broker.host)
    return said("No connection to the broker at {place}: {why}.", place=place, why=str(fault))


def sentence_of_refusal(reason: ReasonCode, broker: Broker) -> str:
    """What a broker's own "no" means, and what to look at."""
    place = f"{broker.host}:{broker.port}"
    word = str(reason).lower()
    if "not authorized" in word or "user name" in word or "password" in word:
        if not broker.user:
            return said(
                "The broker at {place} refuses a connection without a user: check [broker] user and password_file.",
                place=place,
            )
        return said(
            'The broker at {place} refuses the user "{user}" or its password: check [broker] user and password_file.',
            place=place, user=broker.user,
        )  # fmt: skip
    return said("The broker at {place} refuses the connection: {word}.", place=place, word=word)


class _Unreadable(OSError):
    """A file of the `[broker]` table that cannot be used; the text is the sentence."""


def _password(path: str | None) -> str | None:
    if path is None:
        return None
    try:
        lines = Path(path).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as fault:
        raise _Unreadable(f"[broker] password_file cannot be read: {fault}.") from fault
    if not lines or not lines[0]:
        raise _Unreadable(f"[broker] password_file {path} is empty: put the password on its first line.")
    return lines[0]


def _tls_context(broker: Broker) -> ssl.SSLContext:
    assert broker.tls is not None
    try:
        context = ssl.create_default_context(cafile=broker.tls.ca)
        if broker.tls.cert is not None:
            context.load_cert_chain(broker.tls.cert, broker.tls.key)
    except OSError as fault:
        raise _Unreadable(f"A file of [broker] tls cannot be used: {fault}.") from fault
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context
