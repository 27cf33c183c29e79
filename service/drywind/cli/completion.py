"""`drywind completion`: what a shell needs to complete commands and the names of stacks."""

import os
from pathlib import Path

import click
from click.shell_completion import CompletionItem, get_completion_class

from drywind.config import load
from drywind.errors import DrywindError
from drywind.store import Store

HOW = {
    "bash": 'eval "$(drywind completion bash)"     in ~/.bashrc',
    "zsh": 'eval "$(drywind completion zsh)"      in ~/.zshrc',
    "fish": "drywind completion fish | source      in ~/.config/fish/config.fish",
}


@click.command(epilog="\b\n" + "\n".join(HOW.values()))
@click.argument("shell", type=click.Choice(list(HOW)))
@click.pass_context
def completion(ctx: click.Context, shell: str) -> None:
    """Print what makes a shell complete drywind's commands, options and stack names."""
    found = get_completion_class(shell)
    assert found is not None
    root = ctx.find_root()
    click.echo(found(root.command, {}, "drywind", "_DRYWIND_COMPLETE").source())


def stack_names(
    ctx: click.Context, _param: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """Return the stacks whose names begin so; none where there is no yard to be read."""
    path = ctx.params.get("config_path") or ctx.find_root().params.get("config")
    try:
        config = load(Path(path) if path else None, os.environ)
        with Store(config.data_dir / "drywind.db") as store:
            stacks = store.stacks()
    except DrywindError:
        return []
    return [
        CompletionItem(stack.id, help=f"{stack.species} {stack.thickness.label}")
        for stack in stacks
        if stack.id.startswith(incomplete)
    ]
