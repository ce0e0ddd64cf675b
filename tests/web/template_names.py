"""Which names a template wants from the context that it is rendered with, its imports and includes counted in."""

from __future__ import annotations

from jinja2 import Environment, meta, nodes


def names_wanted(environment: Environment, template: str) -> set[str]:
    """Names that neither the template sets itself nor the environment gives to all."""
    wanted, own, waiting, seen = set(), {"caller"}, [template], set()
    while waiting:
        name = waiting.pop()
        seen.add(name)
        tree = environment.parse(environment.loader.get_source(environment, name)[0])
        wanted |= meta.find_undeclared_variables(tree)
        own |= {macro.name for macro in tree.find_all(nodes.Macro)} | {
            name for one in tree.find_all(nodes.FromImport) for name in one.names
        }
        own |= {assigned.target.name for assigned in tree.find_all(nodes.Assign)}
        waiting += [other for other in meta.find_referenced_templates(tree) if other and other not in seen]
    return wanted - set(environment.globals) - own
