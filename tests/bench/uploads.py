"""Many uploads at once: are all judged, how much memory does it take, does the page answer meanwhile.

    python tests/bench/uploads.py [--count 50] [--megapixels 12]

Starts `discscan serve`, sends that many photos in as many connections, and prints what came of it. Run by hand: it
depends on the machine. Memory is the resident set of the server and its children, added up, so that shared pages count
twice.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import httpx2
import numpy as np

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_images"


def photos(count: int, megapixels: float) -> list[bytes]:
    """Different JPEGs of that size, made of the demo photos; no two have the same bytes."""
    sources = sorted(DEMO.glob("*_*.jpg"))
    made = []
    for number in range(count):
        bgr = cv2.imread(str(sources[number % len(sources)]))
        assert bgr is not None
        scale = (megapixels * 1e6 / (bgr.shape[0] * bgr.shape[1])) ** 0.5
        large = cv2.resize(bgr, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
        noise = np.random.default_rng(number).integers(-14, 15, large.shape, dtype=np.int16)  # as a sensor's
        grainy = np.clip(large + noise, 0, 255).astype(np.uint8)
        made.append(bytes(cv2.imencode(".jpg", grainy, [cv2.IMWRITE_JPEG_QUALITY, 88])[1].tobytes()))
    return made


def resident_mb(root: int) -> float:
    """Of a process and all its descendants."""
    parents = {}
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            text = status.read_text()
        except OSError:
            continue
        found = dict(line.split(":", 1) for line in text.splitlines() if ":" in line)
        parents[int(found["Pid"])] = int(found["PPid"]), float(found.get("VmRSS", "0").split()[0]) / 1000
    total, wanted = 0.0, {root}
    while wanted:
        one = wanted.pop()
        total += parents.get(one, (0, 0.0))[1]
        wanted |= {pid for pid, (parent, _) in parents.items() if parent == one}
    return total


def main() -> None:
    parser = argparse.ArgumentParser(description="Send many photos at once.")
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--megapixels", type=float, default=12.0)
    wishes = parser.parse_args()
    sent = photos(wishes.count, wishes.megapixels)
    print(f"{len(sent)} photos, {sum(map(len, sent)) / 1e6 / len(sent):.1f} MB each")
    command = [sys.executable, "-m", "discscan", "serve", "--port", "0"]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as server:
        try:
            assert server.stdout is not None
            (address,) = re.findall(r"http://\S+", server.stdout.readline())
            measure(address.rstrip("/"), server.pid, sent)
        finally:
            server.terminate()


def measure(address: str, pid: int, sent: list[bytes]) -> None:
    peak, waits, over = [0.0], [0.0], threading.Event()

    def watch() -> None:
        with httpx2.Client() as client:
            while not over.is_set():
                peak[0] = max(peak[0], resident_mb(pid))
                begun = time.perf_counter()
                client.get(f"{address}/", timeout=60).raise_for_status()
                waits.append(time.perf_counter() - begun)
                time.sleep(0.05)

    watcher = threading.Thread(target=watch)
    watcher.start()
    begun = time.perf_counter()

    def send(photo: bytes) -> str:
        answer = httpx2.post(
            f"{address}/photos", files={"photo": ("disc.jpg", photo, "image/jpeg")}, headers={"Origin": address},
            timeout=120,
        )  # fmt: skip
        return str(answer.headers.get("location", answer.status_code))

    with ThreadPoolExecutor(len(sent)) as together:
        places = list(together.map(send, sent))
    print(f"received in {time.perf_counter() - begun:.1f} s: {len(set(places))} addresses, peak {peak[0]:.0f} MB")
    verdicts = 0
    with httpx2.Client() as client:
        for place in places:
            while not client.get(f"{address}{place}/state", timeout=60).json()["done"]:
                time.sleep(0.2)
            verdicts += client.get(f"{address}{place}", timeout=60).status_code == 200
    took = time.perf_counter() - begun
    over.set()
    watcher.join()
    print(f"{verdicts} of {len(sent)} answered in {took:.1f} s, {len(sent) / took:.2f} photos a second")
    print(
        f"memory at most {peak[0]:.0f} MB; the first page answered {len(waits)} times, at worst in {max(waits):.2f} s"
    )


if __name__ == "__main__":
    main()
