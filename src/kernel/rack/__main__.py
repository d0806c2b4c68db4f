"""
The rack: builds sites out of network namespaces and probes them, told by lines of JSON on standard input and answering
each with one line. Ends when its input closes; nothing of what it built outlives it.
"""

import asyncio
import collections
import concurrent.futures
import itertools
import json
import os
import sys
import time

import namespaces
from ask import Asker
from bonds import carrying
from forget import forget
from hold import QUESTION, Held
from lease import take_lease
from links import Links
from listen import Listeners, all_heard
from observe import Observer, arrival, is_request
from send import send_frame, send_packet
from serve import Servers, has_tentative
from talk import Talkers
from tunnels import raise_tunnels, wait_for_tunnels
from watch import Watcher

WORKERS = concurrent.futures.ThreadPoolExecutor(6)
TENTATIVE_SECONDS = 20
_tokens = itertools.count(1)

# In a machine of its own, whose clock jumps on when nothing runs.
VIRTUAL_TIME = "--virtual-time" in sys.argv


class Refusals:
    """
    When a device was refused lately. A router without a route tells each sender so five times at once, then once a
    second; that limit belongs to the whole machine, so probes keep below it instead: four in any four seconds.
    """

    def __init__(self):
        self._times = collections.deque(maxlen=4)

    async def wait(self):
        if len(self._times) == 4:
            await asyncio.sleep(max(0, self._times[0] + 4.2 - time.monotonic()))

    def note(self):
        self._times.append(time.monotonic())


class Site:
    """Namespaces by device, with their eyes and listeners. The probes of one site run one after the other."""

    def __init__(self, devices):
        self.namespaces = {}
        self.observer = None
        self.listeners = None
        self.servers = Servers()
        self.held = Held()
        # Routers that go on advertising, by device.
        self.advertising = {}
        self.talkers = Talkers(self.namespaces)
        self.turn = asyncio.Lock()
        self.refusals = {name: Refusals() for name in devices}
        try:
            for name in devices:
                self.namespaces[name] = namespaces.make()
        except OSError:
            self.close()
            raise

    def close(self):
        self.servers.close()
        self.held.close()
        self.talkers.close()
        if self.listeners:
            self.listeners.close()
        if self.observer:
            self.observer.close()
        for namespace in self.namespaces.values():
            os.close(namespace)


SITES = {}


async def op_open(request):
    SITES[request["site"]] = site = Site(request["devices"])
    return {name: namespaces.path(namespace) for name, namespace in site.namespaces.items()}


async def op_run(request):
    """Steps that do not depend on each other, at once: settings, lines for a program, or a program with its input."""
    site = SITES[request["site"]]
    loop = asyncio.get_running_loop()

    def step(told):
        namespace = site.namespaces[told["device"]]
        if "settings" in told:
            namespaces.write_settings(namespace, told["settings"])
            return {"status": 0, "said": ""}
        if "lines" in told:
            status, said = site.talkers.say(told["device"], told["lines"], told["text"])
            return {"status": status, "said": said}
        status, said = namespaces.run(namespace, told["command"], told["text"])
        return {"status": status, "said": said}

    return await asyncio.gather(*(loop.run_in_executor(WORKERS, step, told) for told in request["steps"]))


async def op_rest(request):
    """Waits for some seconds, in which bonds come to rest; answers with the members of each that carry."""
    site = SITES[request["site"]]
    await asyncio.sleep(request["seconds"])
    return [carrying(site.namespaces[bond["device"]], bond["name"]) for bond in request["bonds"]]


async def op_ready(request):
    """Waits until trees rest, the links are up and no address is tentative any more, then opens the eyes."""
    site = SITES[request["site"]]
    running = request["running"]
    site.talkers.close()
    await asyncio.sleep(request["settle"])
    for _ in range(250):
        if all(namespaces.ready(namespace, running.get(device, [])) for device, namespace in site.namespaces.items()):
            break
        await asyncio.sleep(0.02)
    else:
        raise TimeoutError("a link or an address is still not ready after 5 s")
    site.observer = Observer(site.namespaces)
    site.listeners = Listeners(site.namespaces)
    return True


async def op_tunnels(request):
    """Gives ends of tunnels their keys and peers, and waits until those that find each other have."""
    site = SITES[request["site"]]
    loop = asyncio.get_running_loop()
    await loop.run_in_executor(WORKERS, raise_tunnels, site, request["ends"])
    await loop.run_in_executor(WORKERS, wait_for_tunnels, site, request["ends"])
    return True


async def op_serve(request):
    """Starts what serves on a site, each by its configuration."""
    site = SITES[request["site"]]
    loop = asyncio.get_running_loop()

    def start(told):
        site.servers.start(site.namespaces[told["device"]], told["text"])

    await asyncio.gather(*(loop.run_in_executor(WORKERS, start, told) for told in request["servers"]))
    return True


async def op_advertise(request):
    """
    Starts what advertises on a site, each by its configuration, and lets the first advertisements arrive. Who said all that there
    is to say ends then: each time that it spoke again its neighbours would know it for a while without asking.
    """
    site = SITES[request["site"]]
    loop = asyncio.get_running_loop()

    def start(told):
        return site.servers.advertise(site.namespaces[told["device"]], told["text"], told["interfaces"])

    servers = await asyncio.gather(*(loop.run_in_executor(WORKERS, start, told) for told in request["routers"]))
    await asyncio.sleep(0.2)
    deadline = loop.time() + TENTATIVE_SECONDS
    # A formed address is made usable by a worker of the kernel, which waits its turn while other sites are built and taken down.
    while loop.time() < deadline and any(has_tentative(each) for each in site.namespaces.values()):
        await asyncio.sleep(0.05)
    for told, server in zip(request["routers"], servers, strict=True):
        if told["lasts"]:
            site.servers.end(server)
        else:
            site.advertising[told["device"]] = server
    return True


async def op_hush(request):
    """What advertises on a device ends; `farewell`: it says so (RFC 4861 section 6.2.5), else it is gone without a word."""
    site = SITES[request["site"]]
    server = site.advertising.pop(request["device"])
    if request["farewell"]:
        await asyncio.get_running_loop().run_in_executor(WORKERS, site.servers.take_leave, server)
    else:
        site.servers.end(server)
    return True


async def op_lease(request):
    """One client asks for a lease."""
    site = SITES[request["site"]]
    return await take_lease(site.namespaces[request["device"]], request["interface"], site.servers.is_busy)


async def op_listen(request):
    for listener in request["listeners"]:
        SITES[request["site"]].listeners.open(**listener)
    return True


async def op_deafen(request):
    for listener in request["listeners"]:
        SITES[request["site"]].listeners.deafen(**listener)
    return True


async def op_probe(request):
    site = SITES[request["site"]]
    token = b"%08d" % next(_tokens)
    refusals = site.refusals[request["device"]]
    async with site.turn:
        await refusals.wait()
        watcher = Watcher(site.namespaces) if request.get("watch") else None
        asker = Asker(site.namespaces[request["device"]], request, token)
        site.observer.forget()
        outcome = await asker.run()
        if outcome["end"] == "refused":
            refusals.note()
        site.observer.drain()
        seen = [packet for packet in site.observer.seen if is_request(packet, request["protocol"], token)]
        frames = {"frames": watcher.close()} if watcher else {}
    return {**outcome, **frames, "arrivals": _distinct(arrival(packet) for packet in seen)}


async def op_hold(request):
    """Uses a connection that stays open, and tries a new one where it does not go on. `got`: the devices that its use arrived at."""
    site = SITES[request["site"]]
    async with site.turn:
        site.observer.forget()
        told = await site.held.use(request["name"], site.namespaces[request["device"]], request)
        site.observer.drain()
        return {**told, "got": sorted({packet["device"] for packet in site.observer.seen if packet.get("payload") == QUESTION})}


async def op_send(request):
    """Sends one raw packet and tells all that arrived anywhere within `patience` seconds."""
    site = SITES[request["site"]]
    async with site.turn:
        site.observer.forget()
        send_packet(site.namespaces[request["device"]], bytes.fromhex(request["packet"]), request.get("egress"))
        await _rest(site, request)
        return _distinct(arrival(packet) for packet in site.observer.seen)


async def op_frame(request):
    """Puts one frame on the wire at an interface, and tells all that arrived anywhere within `patience` seconds."""
    site = SITES[request["site"]]
    async with site.turn:
        watcher = Watcher(site.namespaces) if request.get("watch") else None
        site.observer.forget()
        send_frame(site.namespaces[request["device"]], request["interface"], bytes.fromhex(request["frame"]))
        await _rest(site, request)
        frames = {"frames": watcher.close()} if watcher else {}
        return {**frames, "arrivals": _distinct(arrival(packet) for packet in site.observer.seen)}


async def _rest(site, request):
    """Until all that comes of a packet has arrived."""
    await asyncio.sleep(request.get("patience", 0.9))
    await all_heard()
    site.observer.drain()


async def op_forget(request):
    """Connections, neighbours and stations are forgotten everywhere, as if the site had just been built."""
    site = SITES[request["site"]]
    loop = asyncio.get_running_loop()
    if VIRTUAL_TIME:
        # So that no probe has to wait for those before: what is learned ages meanwhile.
        await asyncio.gather(*(refusals.wait() for refusals in site.refusals.values()))
    await asyncio.gather(*(loop.run_in_executor(WORKERS, forget, each) for each in site.namespaces.values()))
    return True


async def op_ports(request):
    """The ports of all bridges: `[device, port, state]`."""
    ports = []
    for device, namespace in SITES[request["site"]].namespaces.items():
        with Links(namespace) as links:
            ports += [[device, name, state] for name, _, state in links.bridge_ports()]
    return ports


async def op_timed(request):
    """
    Other operations, one after the other, each so many seconds from now: when each began, and its answer or what went wrong. So
    a clock that runs while a request is on its way does not count.
    """
    loop = asyncio.get_running_loop()
    begun = loop.time()
    told = []
    for step in request["steps"]:
        await asyncio.sleep(begun + step["at"] - loop.time())
        now = {"began": round(loop.time() - begun, 4)}
        try:
            answer = await globals()[f"op_{step['op']}"]({"site": request["site"], **step})
            told.append({**now, "result": answer})
        except Exception as error:  # the others go on; who asked decides
            told.append({**now, "error": f"{type(error).__name__}: {error}"})
    return told


async def op_close(request):
    SITES.pop(request["site"]).close()
    if VIRTUAL_TIME:
        # The kernel clears up behind our back, for about a second; the next site begins when that is done.
        await asyncio.sleep(3)
    return True


def _distinct(packets):
    """Each once: what is sent again, unanswered, is no second arrival."""
    kept = []
    for packet in packets:
        if packet not in kept:
            kept.append(packet)
    return kept


async def _serve(line):
    request = json.loads(line)
    try:
        answer = {"id": request["id"], "result": await globals()[f"op_{request['op']}"](request)}
    except Exception as error:  # told to the other side, which knows what it asked for
        answer = {"id": request["id"], "error": f"{type(error).__name__}: {error}"}
    sys.stdout.write(json.dumps(answer) + "\n")
    sys.stdout.flush()


async def _keep_awake(running, idle):
    """While nobody sleeps, a virtual clock goes with the work; else hours would pass until the next request comes."""
    while True:
        if running:
            idle.clear()
            await idle.wait()
        await asyncio.sleep(0)


async def _main():
    loop = asyncio.get_running_loop()
    reader = asyncio.StreamReader(limit=1 << 24)
    await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(reader), sys.stdin)
    running = set()
    idle = asyncio.Event()

    def done(task):
        running.discard(task)
        if not running:
            idle.set()

    if VIRTUAL_TIME:
        loop.create_task(_keep_awake(running, idle))
        print('{"id": 0, "result": "ready"}', flush=True)
    while line := await reader.readline():
        task = asyncio.create_task(_serve(line))
        running.add(task)
        task.add_done_callback(done)
    os._exit(0)


asyncio.run(_main())
