#!/usr/bin/env python3
"""Makes car-segments.json: 10,000 random messages sent, damaged and put together again by a reference ISO-TP library.

Source: PyPI `can-isotp` 2.0.7 (MIT), an implementation of ISO 15765-2. Messages and damage are drawn by a generator
written out below, which the test in tests/outside/car_segments.rs repeats; only hashes and one bit a message are kept.

How:
    venv/bin/pip install can-isotp==2.0.7
    venv/bin/python tests/outside/make/car_segments.py tests/outside

Generator: splitmix64 from seed 15765. `below(n)` is the next number modulo n. For each message, in this order:
  1. most = [7, 60, 400, 4095][below(4)]; length = 1 + below(most)
  2. its bytes: the next number's lowest eight bits, one number a byte
  3. the frames are made by the library's sender, padded with 00 to eight bytes
  4. damage = below(20):  0-10 none;  11-13 the frame at below(frames) is lost;  14-15 the frame at below(frames) comes
     twice;  16-17 the frame at below(frames) and the one after it are exchanged (the last one: with the first);
     18-19 the message is broken off: only the first below(frames) frames come
  5. the frames go to one receiver that lives through all messages
`delivered` has a bit for each message (first message in the highest bit of the first byte): whether the receiver gave
out exactly this message while its frames came. `wrong_at` are the messages at which it gave out something else: the
end of a message whose beginning is lost, put behind one that was broken off, where the numbers happen to fit. A
receiver that sees nothing but these frames cannot know better; a capture also has the requests and flow control.
`frames` is the SHA-256 of all frames made in step 3, in order.
"""
import hashlib
import json
import logging
import sys
from importlib.metadata import version
from pathlib import Path

import isotp

logging.disable(logging.CRITICAL)
SEED, COUNT, MASK = 15765, 10_000, (1 << 64) - 1


class Dice:
    def __init__(self, seed):
        self.state = seed

    def next(self):
        self.state = (self.state + 0x9E3779B97F4A7C15) & MASK
        z = self.state
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
        return z ^ (z >> 31)

    def below(self, n):
        return self.next() % n


def layer(inbox, outbox, tx, rx):
    address = isotp.Address(isotp.AddressingMode.Normal_11bits, txid=tx, rxid=rx)
    return isotp.TransportLayerLogic(
        rxfn=lambda *a: inbox.pop(0) if inbox else None, txfn=outbox.append, address=address,
        error_handler=lambda e: None,
        params={"stmin": 0, "blocksize": 0, "tx_padding": 0, "max_frame_size": 4095, "rx_consecutive_frame_timeout": 60_000})


def sent(message):
    inbox, outbox = [], []
    sender = layer(inbox, outbox, 0x7E8, 0x7E0)
    sender.send(bytes(message))
    sender.process()
    if len(message) > 7:
        inbox.append(isotp.CanMessage(arbitration_id=0x7E0, dlc=3, data=bytearray([0x30, 0, 0])))
        for _ in range(2000):
            sender.process()
            if not sender.transmitting():
                break
    return [bytes(m.data) for m in outbox]


def damaged(frames, dice):
    damage = dice.below(20)
    if damage <= 10:
        return frames
    at = dice.below(len(frames))
    if damage <= 13:
        return frames[:at] + frames[at + 1:]
    if damage <= 15:
        return frames[:at + 1] + frames[at:]
    if damage <= 17:
        other, out = (at + 1) % len(frames), list(frames)
        out[at], out[other] = out[other], out[at]
        return out
    return frames[:at]


def make(out):
    dice, inbox, outbox = Dice(SEED), [], []
    receiver = layer(inbox, outbox, 0x7E0, 0x7E8)
    all_frames, bits, wrong, count = hashlib.sha256(), [], [], 0
    for at in range(COUNT):
        most = [7, 60, 400, 4095][dice.below(4)]
        message = bytes(dice.next() & 0xFF for _ in range(1 + dice.below(most)))
        frames = sent(message)
        for f in frames:
            assert len(f) == 8
            all_frames.update(f)
        count += len(frames)
        for f in damaged(frames, dice):
            inbox.append(isotp.CanMessage(arbitration_id=0x7E8, dlc=8, data=bytearray(f)))
        while inbox:
            receiver.process()
        got = []
        while receiver.available():
            got.append(bytes(receiver.recv()))
        wrong += [at] * any(g != message for g in got)
        bits.append(int(message in got))
    packed = bytes(int("".join(map(str, bits[i:i + 8])).ljust(8, "0"), 2) for i in range(0, COUNT, 8))
    found = {
        "made_with": {"library": "can-isotp", "version": version("can-isotp"), "script": "tests/outside/make/car_segments.py"},
        "seed": SEED, "messages": COUNT, "frame_count": count, "frames": all_frames.hexdigest(),
        "delivered_count": sum(bits), "wrong_at": wrong, "delivered": packed.hex(),
    }
    (Path(out) / "car-segments.json").write_text(json.dumps(found, indent=1) + "\n")
    print(count, "frames", sum(bits), "delivered", wrong, "wrong")


if __name__ == "__main__":
    make(sys.argv[1] if len(sys.argv) > 1 else ".")
