"""Counting checks and telling the result in the words of cargo's own test runner."""

import sys

MOST_SHOWN = 40


class Report:
    """Collects checks: how many passed, and what is wrong about the rest."""

    def __init__(self):
        self.passed = 0
        self.wrong = []

    def check(self, good, what):
        """One check; `what` says what is wrong when `good` is false."""
        if good:
            self.passed += 1
        else:
            self.wrong.append(what)
        return good

    def same(self, found, wanted, what):
        """One check that two values are equal."""
        return self.check(found == wanted, f"{what}: found {found!r}, wanted {wanted!r}")

    def attempt(self, what, action):
        """Runs an action; an exception is a failed check, not a crash. Gives the action's value or None."""
        try:
            return action()
        except Exception as why:  # whatever a foreign reader throws is a finding about our file
            self.wrong.append(f"{what}: {type(why).__name__}: {why}")
            return None

    def end(self):
        """Prints the failures and the total, and gives the exit code."""
        for line in self.wrong[:MOST_SHOWN]:
            print(f"FAILED {line}")
        if len(self.wrong) > MOST_SHOWN:
            print(f"… and {len(self.wrong) - MOST_SHOWN} more")
        word = "FAILED" if self.wrong else "ok"
        print(f"test result: {word}. {self.passed} passed; {len(self.wrong)} failed")
        sys.stdout.flush()
        return 1 if self.wrong else 0
