import unittest

from loading import script

third_party = script("third-party.py")


def crate(name, version="1.0.0", licence="MIT", repository="https://example.org"):
    return {"name": name, "version": version, "license": licence, "license_file": "LICENCE", "repository": repository}


class Crates(unittest.TestCase):
    def test_what_is_compiled_in_is_found_and_what_builds_or_tests_is_not(self):
        def needs(package, *kinds):
            return {"pkg": package, "dep_kinds": [{"kind": kind} for kind in kinds]}

        nodes = {
            "root": {"deps": [needs("b", None), needs("tests", "dev"), needs("builds", "build")]},
            "b": {"deps": [needs("a", "build", None), needs("root", "dev")]},
            "a": {"deps": [needs("b", None)]},
            "tests": {"deps": [needs("only-tests", None)]},
            "builds": {"deps": []},
            "only-tests": {"deps": []},
        }
        packages = {name: crate(name) for name in nodes}
        self.assertEqual([found["name"] for found in third_party.reached(nodes, packages, "root")], ["a", "b"])

    def test_an_old_slash_means_or(self):
        self.assertEqual(third_party.licence(crate("a", licence="MIT/Apache-2.0")), "MIT OR Apache-2.0")
        self.assertEqual(third_party.licence(crate("a", licence="MIT / Apache-2.0")), "MIT OR Apache-2.0")
        self.assertEqual(third_party.licence(crate("a", licence=None)), "see LICENCE")

    def test_the_table_takes_the_place_of_the_one_before(self):
        before = f"words\n{third_party.BEGIN}\n\nold\n\n{third_party.END}\nmore words\n"
        rows = third_party.table([crate("a"), crate("b", repository=None)])
        self.assertIn("| b | 1.0.0 | MIT | https://crates.io/crates/b |", rows)
        after = third_party.with_table(before, rows)
        self.assertTrue(after.startswith("words\n") and after.endswith("\nmore words\n"))
        self.assertNotIn("old", after)
        self.assertEqual(third_party.with_table(after, rows), after)


if __name__ == "__main__":
    unittest.main()
