"""The address of a server under another role."""


def as_role(place, name):
    return place.replace("//postgres@", f"//{name}@")
