"""Command line of gomphosis; heavy imports wait until a command needs them."""

import sys
from pathlib import Path

import click

from gomphosis.viz.plain_text import speak_plainly

JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON and nothing else.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="gomphosis")
def cli() -> None:
    """Simulate how brackets and arch wires move teeth, for research and teaching.

    Not a medical device. Treatment is decided by a licensed practitioner.
    """


@cli.command()
@click.argument("scenario")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Directory for tables, figures, fields and the animation.",
)
@JSON
def run(scenario: str, out: Path | None, as_json: bool) -> None:
    """Follow the teeth of SCENARIO (a file, or the name of a shipped case) over its weeks."""
    from gomphosis.viz.run_command import run_command

    if out is None and not as_json:
        raise click.UsageError("give --out DIR for the files, or --json for the summary alone")
    run_command(scenario, out, as_json=as_json)


@cli.command()
@click.argument("number", type=int)
@click.option("--crest-loss", help='Bone lost at the crest, such as "2 mm".')
@click.option("--young", help='Young\'s modulus of the ligament, such as "0.05 MPa".')
@click.option("--poisson", type=float, help="Poisson's ratio of the ligament.")
@click.option(
    "--figure",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also draw the centre of rotation against the force, to this PNG file.",
)
@JSON
def tooth(
    number: int,
    crest_loss: str | None,
    young: str | None,
    poisson: float | None,
    figure: Path | None,
    as_json: bool,
) -> None:
    """Show the support of tooth NUMBER (ISO 3950): stiffness, centre of resistance, M/F."""
    from gomphosis.viz.tooth_command import draw_rotation, tooth_command

    if figure is not None:
        draw_rotation(
            number, crest_loss, ligament={"young": young, "poisson": poisson}, path=figure
        )
    tooth_command(
        number, crest_loss, ligament={"young": young, "poisson": poisson}, as_json=as_json
    )


@cli.command()
@click.argument("scenario")
@JSON
def wire(scenario: str, as_json: bool) -> None:
    """Show the force system on every bracket of SCENARIO before anything moves."""
    from gomphosis.viz.wire_command import wire_command

    wire_command(scenario, as_json=as_json)


@cli.command()
@click.option("--young", help='Young\'s modulus of the ligament, such as "0.05 MPa".')
@click.option("--poisson", type=float, help="Poisson's ratio of the ligament.")
@JSON
def rates(young: str | None, poisson: float | None, as_json: bool) -> None:
    """Fit the rate law to published speeds and show how well it fits."""
    from gomphosis.viz.rates_command import rates_command

    rates_command({"young": young, "poisson": poisson}, as_json=as_json)


@cli.command()
@click.option("--quick", is_flag=True, help="Leave out the checks that take minutes.")
@JSON
def check(quick: bool, as_json: bool) -> None:
    """Recompute every check of the program against something outside it."""
    from gomphosis.viz.check_command import check_command

    sys.exit(check_command(quick=quick, as_json=as_json))


@cli.command()
@JSON
def cases(as_json: bool) -> None:
    """List the shipped cases, which run by name."""
    from gomphosis.viz.cases_command import cases_command

    cases_command(as_json=as_json)


@cli.command()
def schema() -> None:
    """Print the JSON schema of a scenario file, for editors."""
    from gomphosis.viz.cases_command import schema_command

    schema_command()


def main() -> None:
    """Run the command line; every foreseen failure is one line and a non-zero exit."""
    for stream in (sys.stdout, sys.stderr):
        speak_plainly(stream)
    try:
        status = cli(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        _fail("interrupted; no partial file was left", 130)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        _fail(f"{where}{(error.strerror or str(error)).lower()}; expected a writable place", 1)
    except (ValueError, ArithmeticError) as error:
        if type(error).__module__.partition(".")[0] != "gomphosis":
            raise
        _fail(str(error), 2)
    sys.exit(status or 0)


def _fail(message: str, status: int) -> None:
    click.echo(f"gomphosis: {message}", err=True)
    sys.exit(status)
