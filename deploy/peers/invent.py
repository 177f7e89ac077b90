"""Invents alliance totals for the programs that deploy/bench times: invent.py FOLDER

event.csv    60 robots, 120 matches of three against three
season.csv   4,000 robots, 20,000 matches: 200 venues of 50 robots and 100 matches
Columns: three robots, numbered from 0, and their score. The same every time.
"""
import os, random, sys


def venue(rng, robots, matches):
    """Two alliances a match, every robot about as often as any other."""
    waiting = []
    for _ in range(matches):
        playing = []
        while len(playing) < 6:
            if not waiting:
                waiting = rng.sample(robots, len(robots))
            at = next((k for k in range(len(waiting) - 1, -1, -1) if waiting[k] not in playing), None)
            if at is None:
                waiting = rng.sample(robots, len(robots)) + waiting
            else:
                playing.append(waiting.pop(at))
        yield playing[:3]
        yield playing[3:]


def write(path, robots, venues, seed):
    rng = random.Random(seed)
    skill = [rng.gauss(22, 8) for _ in range(robots)]
    deck = []
    with open(path, "w") as out:
        out.write("a,b,c,score\n")
        for size, matches in venues:
            while len(set(deck[-size:])) < size:  # as many different robots as the venue holds
                deck = rng.sample(range(robots), robots)
            here, deck = deck[-size:], deck[:-size]
            for side in venue(rng, here, matches):
                score = max(0, round(sum(skill[r] for r in side) + rng.gauss(0, 14)))
                out.write("%d,%d,%d,%d\n" % (*side, score))


write(os.path.join(sys.argv[1], "event.csv"), 60, [(60, 120)], 1)
write(os.path.join(sys.argv[1], "season.csv"), 4000, [(50, 100)] * 200, 2)
