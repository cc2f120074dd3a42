"""A pedal between an audio server's output and input: a JACK client in a process of its own.

Channel 1 goes through a finite impulse response and a little noise, as any converter adds;
channel 2 is a wire (the check cable). Commands come on standard input, one a line, and each is
answered by one line, so that whoever gives them knows when they hold:

    filter FILE     use the impulse response in a .npy file from now on (none at the start: a wire)
    noise LEVEL     standard deviation of the noise on channel 1, fraction of full scale
    mute N          channel 1 is silent in the N-th period from now that carries sound
    slip N          from that period on, channel 1 comes one sample later
    late N S        that period takes S seconds longer
    heal            none of these faults any more
    freewheel on|off
    quit
"""

from __future__ import annotations

import sys
import time

import jack
import numpy as np


class Pedal:
    """What happens to each period, and the faults that were asked for."""

    def __init__(self, client: jack.Client) -> None:
        self.client = client
        self.ins = [client.inports.register(f"in_{n}") for n in (1, 2)]
        self.outs = [client.outports.register(f"out_{n}") for n in (1, 2)]
        self.rng = np.random.default_rng(1)
        self.noise = 0.0
        self.taps = np.ones(1)
        self.past = np.zeros(0)
        self.held: float | None = None
        self.due: dict[str, int] = {}
        self.late_s = 0.0

    def use(self, taps: np.ndarray) -> None:
        """Change to another impulse response, keeping what is still on its way."""
        past = np.concatenate((np.zeros(taps.size), self.past))[-(taps.size - 1) or None :]
        self.past = past if taps.size > 1 else np.zeros(0)
        self.taps = taps

    def is_due(self, fault: str, *, sound: bool) -> bool:
        """Count a fault down on periods with sound; true in the one it was asked for."""
        if fault not in self.due or not sound:
            return False
        self.due[fault] -= 1
        if self.due[fault] > 0:
            return False
        del self.due[fault]
        return True

    def filtered(self, block: np.ndarray) -> np.ndarray:
        """Next samples of the running convolution, by FFT over the past and this block."""
        taps, past = self.taps, self.past
        if taps.size == 1:
            return block * taps[0]
        known = np.concatenate((past[-(taps.size - 1) :], block))
        size = 1 << (known.size - 1).bit_length()
        full = np.fft.irfft(np.fft.rfft(known, size) * np.fft.rfft(taps, size), size)
        self.past = known[block.size :]
        return full[taps.size - 1 : known.size]

    def process(self, frames: int) -> None:
        """Handle one period of both channels."""
        first, second = (port.get_array() for port in self.ins)
        sound = bool(np.any(second)) or bool(np.any(first))
        out = self.filtered(first.astype(np.float64))
        if self.is_due("mute", sound=sound):
            out = np.zeros(frames)
        if self.is_due("slip", sound=sound):
            self.held = float(out[0])
        if self.held is not None:
            out, self.held = np.concatenate(([self.held], out[:-1])), float(out[-1])
        if self.is_due("late", sound=sound):
            time.sleep(self.late_s)
        if self.noise:
            out = out + self.rng.normal(0.0, self.noise, frames)
        self.outs[0].get_array()[:] = out
        self.outs[1].get_array()[:] = second


def obey(pedal: Pedal, words: list[str]) -> None:
    """Carry out one command."""
    match words:
        case ["filter", file]:
            pedal.use(np.load(file))
        case ["noise", level]:
            pedal.noise = float(level)
        case ["mute" | "slip" as fault, count]:
            pedal.due[fault] = int(count)
        case ["heal"]:
            pedal.due.clear()
            pedal.held = None
        case ["late", count, seconds]:
            pedal.late_s = float(seconds)
            pedal.due["late"] = int(count)
        case ["freewheel", state]:
            pedal.client.set_freewheel(state == "on")
        case _:
            raise SystemExit(f"unknown command: {words}")


def main(server: str) -> None:
    """Join the server, say so, and obey until told to quit."""
    client = jack.Client("pedal", no_start_server=True, servername=server)
    pedal = Pedal(client)
    client.set_process_callback(pedal.process)
    client.activate()
    print("ready", client.blocksize, client.samplerate, flush=True)
    for line in sys.stdin:
        if line.strip() == "quit":
            break
        obey(pedal, line.split())
        print("done", flush=True)
    client.deactivate()
    client.close()


if __name__ == "__main__":
    main(sys.argv[1])
