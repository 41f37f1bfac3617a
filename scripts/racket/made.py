"""Rackets without end: a hoop, strings, throat, shaft and grip in space, held by a hand, blurred by their own movement, over
any background. Lengths are in racket lengths; the origin is the wrist."""
import copy
import math

import torch

import scenery as scene
from degrade import log_uniform, uniform
from net import SIDE
from sources import CROP_LENGTHS, displaced, smear

HOOP_PARTS = 28


def unit(v):
    return v / (v.norm(dim=-1, keepdim=True) + 1e-6)


def nearest_bar(uv, start, end, radius):
    """Signed distance of every pixel from the nearest of the bars and which that is: uv [P,2], bars [B,N,2], radius [B,N]."""
    along = end - start
    square = (along * along).sum(-1) + 1e-8
    x = uv[None, :, None, 0] - start[:, None, :, 0]
    y = uv[None, :, None, 1] - start[:, None, :, 1]
    part = ((x * along[:, None, :, 0] + y * along[:, None, :, 1]) / square[:, None]).clamp(0, 1)
    dx, dy = x - along[:, None, :, 0] * part, y - along[:, None, :, 1] * part
    distance = torch.sqrt(dx * dx + dy * dy + 1e-12) - radius[:, None]
    return distance.min(-1)


def plane_map(image, plane):
    """The perspective map [B,3,3] that takes four places of the picture to four of the racket's plane."""
    x, y, u, v = image[..., 0], image[..., 1], plane[..., 0], plane[..., 1]
    zero, one = torch.zeros_like(x), torch.ones_like(x)
    rows = [torch.stack([x, y, one, zero, zero, zero, -u * x, -u * y], -1), torch.stack([zero, zero, zero, x, y, one, -v * x, -v * y], -1)]
    system = torch.cat(rows, 1) + 1e-6 * torch.eye(8, device=image.device)
    solved = torch.linalg.solve_ex(system, torch.cat([u, v], 1)[..., None])[0][..., 0]
    return torch.cat([solved, torch.ones(len(image), 1, device=image.device)], 1).view(-1, 3, 3)


def pixels(uv, start, end, radius, solid, colours, strings_colour, to_plane, plain):
    """Colour times cover [B,P,3] and cover [B,P] of rackets whose bars lie at start…end, each as dense as `solid` [B,N] says;
    `plain` holds one number a racket each."""
    light, dark, wide, tall, middle, pitch, density, texture, facing, area = plain[:, None].unbind(-1)
    distance, index = nearest_bar(uv, start, end, radius)
    cover = (0.5 - distance * SIDE / 2).clamp(0, 1) * torch.gather(solid, 1, index)
    rim = (1 + distance / torch.gather(radius, 1, index)).clamp(0, 1)
    bar = torch.gather(colours, 1, index[..., None].expand(-1, -1, 3)) * (light - dark * rim)[..., None]
    mapped = torch.cat([uv, torch.ones_like(uv[:, :1])], -1) @ to_plane.transpose(1, 2)
    x, y = mapped[..., 0] / (mapped[..., 2] + 1e-9), mapped[..., 1] / (mapped[..., 2] + 1e-9)
    inside = 1 - ((x / wide) ** 2 + ((y - middle) / tall) ** 2)
    inside = (inside * 6 + 0.5).clamp(0, 1) * (area > 0.004).float()
    wave = 6.283 / pitch
    weave = density * (1 + texture * (torch.cos(x * wave) + torch.cos(y * wave)))
    # Strings seen aslant look denser.
    strings = (inside * weave * (1 + 0.8 * (1 - facing))).clamp(0, 0.95)
    colour = strings_colour[:, None] * strings[..., None]
    return colour * (1 - cover[..., None]) + bar * cover[..., None], strings * (1 - cover) + cover


class Racket:
    """A batch of rackets and where they are."""

    def __init__(self, count, forearm, offset, scale, blur, colour, device):
        u = lambda low, high: uniform(count, low, high, device)
        self.count, self.device, self.offset = count, device, offset
        self.zoom = 2 / CROP_LENGTHS / scale
        # Forearm in space, then a racket at any angle to it; most are not seen end on.
        rise = u(-1.1, 1.1)
        arm = torch.cat([forearm * torch.cos(rise)[:, None], torch.sin(rise)[:, None]], -1)
        side = unit(torch.cross(arm, torch.randn(count, 3, device=device), dim=-1))
        bend = u(math.radians(5), math.radians(125))[:, None]
        axis = arm * torch.cos(bend) + side * torch.sin(bend)
        flat = torch.where(torch.rand(count, device=device) < 0.6, u(0.2, 0.8), torch.ones(count, device=device))
        axis = unit(axis * torch.stack([torch.ones_like(flat), torch.ones_like(flat), flat], -1))
        roll = u(0, 2 * math.pi)[:, None]
        first = unit(torch.cross(axis, torch.randn(count, 3, device=device), dim=-1))
        self.across = first * torch.cos(roll) + torch.cross(axis, first, dim=-1) * torch.sin(roll)
        self.normal, self.axis, self.arm = torch.cross(axis, self.across, dim=-1), axis, arm
        self.hand = arm * u(0.09, 0.15)[:, None]
        self.butt = self.hand - axis * u(0.03, 0.11)[:, None] + torch.randn(count, 3, device=device) * 0.012
        self.distance = log_uniform(count, 4, 25, device)
        # How it moves while the picture is taken: about the hand, or about a place up the arm.
        self.turning = unit(torch.cross(axis, torch.randn(count, 3, device=device), dim=-1) + 0.3 * torch.randn(count, 3, device=device))
        self.pivot = -arm * (u(0, 1) ** 2)[:, None]
        self.sweep = blur
        self.shape(colour)

    def shape(self, colour):
        count, device = self.count, self.device
        u = lambda low, high: uniform(count, low, high, device)
        self.tall, self.wide = u(0.225, 0.275), u(0.155, 0.205)
        self.middle = 1 - self.tall
        angle = (torch.arange(HOOP_PARTS + 1, device=device) / HOOP_PARTS * 2 * math.pi)[None].expand(count, -1)
        power = u(0.86, 1.0)[:, None]
        squared = lambda v: torch.sign(v) * (v.abs() + 1e-6) ** power
        x, y = self.wide[:, None] * squared(torch.sin(angle)), self.middle[:, None] - self.tall[:, None] * squared(torch.cos(angle))
        joint = u(0.45, 0.8)
        jx, jy = self.wide * torch.sin(joint), self.middle - self.tall * torch.cos(joint)
        sx, sy, grip, zero = u(0.008, 0.03), u(0.27, 0.34), u(0.22, 0.30), torch.zeros(count, device=device)
        mx, my = sx + (jx - sx) * u(0.35, 0.5), sy + (jy - sy) * 0.5
        at = lambda x, y: torch.stack([x, y], -1)[:, None]
        start, end = [torch.stack([x[:, :-1], y[:, :-1]], -1)], [torch.stack([x[:, 1:], y[:, 1:]], -1)]
        for sign in (1, -1):
            start += [at(sign * sx, sy), at(sign * mx, my)]
            end += [at(sign * mx, my), at(sign * jx, jy)]
        start += [at(zero, grip), at(zero, zero)]
        end += [at(zero, sy), at(zero, grip)]
        self.start, self.end = torch.cat(start, 1), torch.cat(end, 1)
        parts = self.start.shape[1]
        self.facing = self.normal[:, 2].abs()
        beam = u(0.008, 0.015) * self.facing + u(0.013, 0.022) * (1 - self.facing)
        self.radius = beam[:, None].expand(count, parts).clone()
        self.radius[:, -2] *= 1.35
        self.radius[:, -1] = u(0.018, 0.028)
        # Two colours along the hoop, a lighter side, a grip of its own.
        one, two, grip_colour, self.string_colour = (colour(count) for _ in range(4))
        two = torch.where(torch.rand(count, 1, device=device) < 0.6, two, one)
        turn, reach = u(0, 6.28)[:, None], u(0.3, 2.0)[:, None]
        at = angle[:, :-1]
        second = ((torch.cos(at - turn) > torch.cos(reach)) | (torch.cos(at + turn) > torch.cos(reach))).float()[..., None]
        hoop = one[:, None] * (1 - second) + two[:, None] * second
        hoop = hoop * (1 + 0.3 * u(0, 1)[:, None, None] * torch.cos(at - u(0, 6.28)[:, None])[..., None])
        throat = torch.where(torch.rand(count, 1, device=device) < 0.5, one, two)[:, None].expand(count, 5, 3)
        self.colours = torch.cat([hoop, throat, grip_colour[:, None]], 1)
        self.pitch, self.density, self.texture = u(0.016, 0.032), log_uniform(count, 0.05, 0.6, device), u(0, 0.6)
        # In the sun strings shine, and a blurred hoop is a pale patch without a rim.
        glint = torch.rand(count, device=device) < 0.3
        pale = (0.78 + 0.22 * torch.rand(count, 1, device=device)) * torch.ones(1, 3, device=device)
        self.string_colour = torch.where(glint[:, None], pale, self.string_colour)
        self.density = torch.where(glint, u(0.3, 0.95), self.density)
        self.texture = torch.where(glint, self.texture * 0.4, self.texture)
        self.light, self.dark = u(0.9, 1.3), u(0, 0.6)
        self.keypoints = torch.stack([torch.stack([zero, zero + y], -1) for y in (0.0, 0.465, 1.0)] + [torch.stack([zero, self.middle], -1)], 1)

    def recolour(self, colour, some):
        """Gives some rackets one colour all over."""
        self.colours = torch.where(some[:, None, None], colour[:, None], self.colours)
        self.string_colour = torch.where(some[:, None], colour, self.string_colour)

    def part(self, some):
        """The rackets of a slice."""
        other = copy.copy(self)
        for name, value in vars(self).items():
            if torch.is_tensor(value):
                setattr(other, name, value[some])
        other.count = len(other.butt)
        return other

    def project(self, points):
        """Places in the crop of points in space [B,N,3], and their zoom."""
        nearness = 1 + points[..., 2:] / self.distance[:, None, None]
        return (points[..., :2] / nearness + self.offset[:, None]) * self.zoom[:, None, None], self.zoom[:, None] / nearness[..., 0]

    def place(self, plane, angle):
        """Places in the crop of points of the racket's plane [B,N,2] with the racket turned by `angle` [B]."""
        p = self.butt[:, None] + plane[..., :1] * self.across[:, None] + plane[..., 1:] * self.axis[:, None] - self.pivot[:, None]
        o = self.turning[:, None].expand_as(p)
        c, s = torch.cos(angle)[:, None, None], torch.sin(angle)[:, None, None]
        p = p * c + torch.cross(o, p, dim=-1) * s + o * (o * p).sum(-1, keepdim=True) * (1 - c) + self.pivot[:, None]
        return self.project(p)

    def paint(self, uv, steps, warp=None):
        """Colour times cover [B,3,S,S] and cover [B,S,S], the mean over `steps` moments of the exposure.

        Each moment stands for its share of the exposure: a bar is as much wider, and as much thinner in colour, as it moves
        aside meanwhile, so that a sweep is one smear and not a row of copies.
        """
        count, device = self.count, self.device
        corners = torch.tensor([[-0.2, 0.5], [0.2, 0.5], [0.2, 1.0], [-0.2, 1.0]], device=device)[None].expand(count, -1, -1)
        bars = self.start.shape[1]
        plane = torch.cat([self.start, self.end, corners], 1)
        edges, zooms = [], []
        for k in range(steps + 1):
            place, zoom = self.place(plane, self.sweep * (k / steps - 0.5))
            edges.append(place if warp is None else warp(place))
            zooms.append(zoom[:, :bars])
        starts, ends, radii, solids, frames = [], [], [], [], []
        for before, after, zoom in zip(edges, edges[1:], zooms):
            place, move = (before + after) / 2, after - before
            start, end = place[:, :bars], place[:, bars : 2 * bars]
            along, shift = unit(end - start), (move[:, :bars] + move[:, bars : 2 * bars]) / 2
            aside = (along[..., 0] * shift[..., 1] - along[..., 1] * shift[..., 0]).abs() / 2
            radius = self.radius * zoom
            starts.append(start), ends.append(end), radii.append(radius + aside), solids.append(radius / (radius + aside))
            frames.append(place[:, 2 * bars :])
        start, end, radius, solid, frame = (torch.cat(v) for v in (starts, ends, radii, solids, frames))
        again = lambda t: t.repeat(steps, *[1] * (t.dim() - 1))
        sides = frame[:, 1] - frame[:, 0], frame[:, 3] - frame[:, 0]
        area = (sides[0][:, 0] * sides[1][:, 1] - sides[0][:, 1] * sides[1][:, 0]).abs()
        plain = (self.light, self.dark, self.wide, self.tall, self.middle, self.pitch, self.density, self.texture, self.facing)
        plain = torch.stack([*map(again, plain), area], -1)
        to_plane = plane_map(frame, again(corners))
        colour, total = pixels(uv, start, end, radius, solid, again(self.colours), again(self.string_colour), to_plane, plain)
        colour = colour.view(steps, count, SIDE, SIDE, 3).mean(0).permute(0, 3, 1, 2)
        return colour, total.view(steps, count, SIDE, SIDE).mean(0)

    def hand_move(self):
        """How far the gripping hand moves during the exposure, in the crop [B,2]."""
        hand = self.keypoints[:, :1] * 0 + torch.tensor([0.0, 0.07], device=self.device)
        return (self.place(hand, self.sweep / 2)[0] - self.place(hand, -self.sweep / 2)[0])[:, 0]


class Made:
    def __init__(self, sources):
        self.sources, self.scene, self.device = sources, scene.Scenery(sources), sources.device

    def batch(self, kinds):
        """Pictures of rackets. `kinds` lists (how many, moments of an exposure, (least, most) turn during it, radians)."""
        s, dev = self.scene, self.device
        count = sum(size for size, _, _ in kinds)
        blur = torch.cat([log_uniform(size, *turn, dev) for size, _, turn in kinds])
        u = lambda low, high: uniform(count, low, high, dev)
        scale, offset = log_uniform(count, 0.62, 1.45, dev), displaced(count, dev)
        ground, arm, forearm = self.sources.grounds_for(count, scale, offset)
        x = s.dress(ground, arm)
        racket = Racket(count, forearm, offset, scale, blur, s.colour, dev)
        points, _ = racket.place(racket.keypoints, torch.zeros(count, device=dev))
        # A racket in the colour of what is behind it.
        behind = torch.nn.functional.grid_sample(x, points[:, 3][:, None, None], align_corners=False)[..., 0, 0]
        racket.recolour((behind + torch.randn(count, 3, device=dev) * 0.07).clamp(0, 1), torch.rand(count, device=dev) < 0.15)
        none = s.chance(count, 0.08)
        x = self.shadow(x, racket)
        x = self.holder(x, racket, s.chance(count, 0.6) * (~arm).float())
        # The other hand often holds the throat or the grip too, behind the racket or in front of it.
        second, ahead = s.chance(count, 0.35), s.chance(count, 0.6)
        support = self.second_hand(racket)
        x = self.drawn(x, support, second * (1 - ahead))
        skin = s.skin(count)[:, :, None, None]
        sleeve = torch.where((s.chance(count, 0.75) > 0)[:, None, None, None], skin, s.colour(count)[:, :, None, None])
        grip = lambda along: racket.project((racket.butt + racket.axis * along)[:, None])[0][:, 0]
        at = lambda point: racket.project(point[:, None])[0][:, 0]
        thick = u(0.035, 0.06) * racket.zoom
        hand, hand_rim = s.capsule(grip(0.02), grip(u(0.11, 0.16)[:, None]), thick, thick * 0.9)
        elbow = racket.hand - racket.arm * u(0.4, 0.6)[:, None]
        limb, limb_rim = s.capsule(at(racket.hand * 0.7), at(elbow), u(0.035, 0.05) * racket.zoom, u(0.05, 0.08) * racket.zoom)
        draws_arm = torch.where(arm, s.chance(count, 0.15), s.chance(count, 0.75))
        draws_hand = torch.where(arm, s.chance(count, 0.5), s.chance(count, 0.9)) * (1 - none)
        front = s.chance(count, 0.4)
        # Hand and forearm are blurred as they move.
        move = racket.hand_move()
        limb = smear(torch.cat([sleeve * s.shade(limb_rim) * limb[:, None], limb[:, None]], 1), move * 0.6)
        hand = smear(torch.cat([skin * s.shade(hand_rim) * hand[:, None], hand[:, None]], 1), move)
        x = self.drawn(x, limb, draws_arm * (1 - front))
        painted, first = [], 0
        for size, steps, _ in kinds:
            painted.append(racket.part(slice(first, first + size)).paint(s.uv, steps))
            first += size
        colour, cover = (torch.cat(layer) for layer in zip(*painted))
        x = self.drawn(x, torch.cat([colour, cover[:, None]], 1), 1 - none)
        x = self.drawn(x, hand, draws_hand)
        x = self.drawn(x, limb, draws_arm * front)
        x = self.drawn(x, support, second * ahead)
        x = self.ball(x, racket)
        # Something in front of it: an arm, a body, a post.
        a, wide = s.place(count), log_uniform(count, 0.04, 0.35, dev)
        cover, rim = s.capsule(a, a + torch.randn(count, 2, device=dev) * 0.5, wide, wide * u(0.6, 1.2))
        x = s.over(x, cover * s.chance(count, 0.2)[:, None, None], s.cloth(x) * s.shade(rim)).clamp(0, 1)
        visible = (points.abs().amax(-1) < 0.98).float() * (1 - none)[:, None]
        return x, points, visible

    @staticmethod
    def drawn(x, layer, on):
        """Lays a layer [B,4,S,S] (colour times cover, cover) over pictures where `on` [B] says so."""
        layer = layer * on[:, None, None, None]
        return x * (1 - layer[:, 3:]) + layer[:, :3]

    def second_hand(self, racket):
        """The other hand around grip, shaft, throat or hoop, with fingers and its arm: a layer."""
        s, count, dev = self.scene, racket.count, self.device
        u = lambda low, high: uniform(count, low, high, dev)
        zoom = racket.zoom
        along = torch.where(torch.rand(count, device=dev) < 0.7, u(0.24, 0.56), u(0.12, 0.95))
        aside = torch.randn(count, device=dev) * 0.03 + (along > 0.56) * (torch.randint(0, 2, (count,), device=dev) * 2 - 1) * 0.17
        held = racket.place(torch.stack([aside, along], -1)[:, None], torch.zeros(count, device=dev))[0][:, 0]
        beyond = racket.place(torch.stack([aside, along + 0.1], -1)[:, None], torch.zeros(count, device=dev))[0][:, 0]
        axis = unit(beyond - held)
        across = torch.stack([-axis[:, 1], axis[:, 0]], -1) * (torch.randint(0, 2, (count, 1), device=dev) * 2 - 1)
        skin, sleeve = s.skin(count)[:, :, None, None], s.colour(count)[:, :, None, None]
        sleeve = torch.where((s.chance(count, 0.7) > 0)[:, None, None, None], skin, sleeve)
        out = unit(across + torch.randn(count, 2, device=dev) * 0.6)
        wrist = held + out * (u(0.07, 0.14) * zoom)[:, None]
        elbow = wrist + unit(out + torch.randn(count, 2, device=dev) * 0.5) * (u(0.15, 0.42) * zoom)[:, None]
        shoulder = elbow + torch.randn(count, 2, device=dev) * 0.3 * zoom[:, None]
        thick = u(0.03, 0.048) * zoom
        layer = torch.zeros(count, 4, SIDE, SIDE, device=dev)

        def add(layer, a, b, ra, rb, colour):
            cover, rim = s.capsule(a, b, ra, rb)
            return layer * (1 - cover[:, None]) + torch.cat([colour * s.shade(rim) * cover[:, None], cover[:, None]], 1)

        layer = add(layer, elbow, shoulder, thick * 1.5, thick * 1.8, sleeve)
        layer = add(layer, wrist, elbow, thick * 0.9, thick * 1.4, skin)
        layer = add(layer, wrist, held + across * (thick * 0.3)[:, None], thick, thick * u(0.7, 1.1), skin)
        for finger in (-0.6, 0.1, 0.8):
            root = held + axis * (finger * thick)[:, None] + across * (thick * 0.5)[:, None]
            end = root - across * (u(0.03, 0.09) * zoom)[:, None] + axis * (torch.randn(count, device=dev) * 0.4 * thick)[:, None]
            layer = add(layer, root, end, thick * 0.35, thick * 0.28, skin)
        return layer

    def holder(self, x, racket, on):
        """The one who holds it, often in white: a trunk, a leg, and the other arm with its hand near the racket."""
        s, count, dev = self.scene, len(x), self.device
        u = lambda low, high: uniform(count, low, high, dev)
        zoom, on = racket.zoom, on[:, None, None]
        at = lambda point: racket.project(point[:, None])[0][:, 0]
        elbow = at(racket.hand - racket.arm * u(0.4, 0.6)[:, None])
        shoulder = elbow + torch.randn(count, 2, device=dev) * 0.3 * zoom[:, None]
        middle, tip = at(racket.butt + racket.axis * racket.middle[:, None]), at(racket.butt + racket.axis)
        # Half of them stand behind the hoop.
        chest = middle + torch.randn(count, 2, device=dev) * 0.25 * zoom[:, None]
        shoulder = torch.where(torch.rand(count, 1, device=dev) < 0.5, shoulder, chest)
        white = (0.8 + 0.2 * torch.rand(count, 3, device=dev)) * torch.ones(count, 3, device=dev)
        cloth = torch.where((s.chance(count, 0.5) > 0)[:, None, None, None], white[:, :, None, None].expand_as(x), s.cloth(x))
        down = torch.stack([torch.randn(count, device=dev) * 0.15, u(0.5, 0.8)], -1) * zoom[:, None]
        wide = u(0.2, 0.36) * zoom
        leg = shoulder + down * u(1.0, 1.3)[:, None]
        cover, rim = s.capsule(leg, leg + down * u(0.6, 1.2)[:, None], wide * 0.6, wide * 0.4)
        x = s.over(x, cover * on, s.colour(count)[:, :, None, None] * s.shade(rim))
        cover, rim = s.capsule(shoulder, shoulder + down, wide, wide * u(0.8, 1.0))
        x = s.over(x, cover * on, cloth * s.shade(rim))
        hand = torch.where(torch.rand(count, 1, device=dev) < 0.5, middle, tip) + torch.randn(count, 2, device=dev) * 0.3 * zoom[:, None]
        bend = (shoulder + hand) / 2 + torch.randn(count, 2, device=dev) * 0.15 * zoom[:, None]
        thick, skin = u(0.045, 0.07) * zoom, s.skin(count)[:, :, None, None]
        for a, b, end in ((shoulder, bend, 0.8), (bend, hand, 0.6)):
            cover, rim = s.capsule(a, b, thick, thick * end)
            x = s.over(x, cover * on, skin * s.shade(rim))
        cover, rim = s.capsule(hand, hand + torch.randn(count, 2, device=dev) * 0.06 * zoom[:, None], thick * 0.9, thick * 0.9)
        return s.over(x, cover * on, skin * s.shade(rim))

    def shadow(self, x, racket):
        """The racket's shadow on the ground or a wall: squashed, sheared, moved, soft."""
        count, dev = len(x), self.device
        squash = uniform((count, 2), -1, 1, dev)
        matrix = torch.stack([torch.stack([uniform(count, 0.6, 1.1, dev), squash[:, 0]], -1), torch.stack([squash[:, 1] * 0.3, uniform(count, -0.6, 0.6, dev)], -1)], 1)
        move = uniform((count, 2), -0.8, 0.8, dev)
        warp = lambda p: torch.einsum("bij,bnj->bni", matrix, p) + move[:, None]
        _, cover = racket.paint(self.scene.uv, 1, warp)
        depth = self.scene.chance(count, 0.2) * uniform(count, 0.2, 0.7, dev)
        return x * (1 - cover * depth[:, None, None])[:, None]

    def ball(self, x, racket):
        s, count, dev = self.scene, len(x), self.device
        a, radius = s.place(count, 1.0), uniform(count, 0.03, 0.07, dev) * racket.zoom
        streak = torch.randn(count, 2, device=dev) * 0.1 * s.chance(count, 0.5)[:, None]
        cover, _ = s.capsule(a, a + streak, radius, radius)
        strength = s.chance(count, 0.25) * uniform(count, 0.5, 1, dev)
        return s.over(x, cover * strength[:, None, None], torch.tensor([0.8, 0.95, 0.25], device=dev)[None].expand(count, 3))
