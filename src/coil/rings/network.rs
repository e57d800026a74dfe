//! Charges and currents joined: the matrices of the eigenproblem.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::charge::{influence_v_per_c, potentials};
use super::conductor::{Charged, Conductor};
use super::eigen::{Lowest, lowest};
use super::grid::{Grid, Inductances};
use super::scene::{End, RingError, Scene};

/// The nodes a current runs from and to; `None` is earth.
#[derive(Debug, Clone, Copy)]
struct Branch {
    from: Option<usize>,
    to: Option<usize>,
}

/// A scene in rings: charges on nodes, currents between them.
///
/// Nodes are the winding's elements, then the conductors of a joined foot, then those of a joined top. Branches are the
/// edges of the elements that carry current.
#[derive(Debug)]
pub(super) struct Network<'s> {
    pub(super) grid: Grid<'s>,
    pub(super) inductances: Inductances,
    /// First edge that carries current: 1 if the foot is open.
    pub(super) first_edge: usize,
    /// Elements of the winding.
    pub(super) count: usize,
    branches: Vec<Branch>,
    /// Both ends are at earth.
    is_shorted: bool,
    /// Potential of each node over the charge of each, in volts per coulomb, everything at earth condensed away.
    pub(super) node_v_per_c: DMatrix<f64>,
    foot_node: Option<usize>,
    top_node: Option<usize>,
}

impl<'s> Network<'s> {
    pub(super) fn new(scene: &'s Scene, count: usize) -> Result<Self, RingError> {
        let grid = Grid::new(scene, count);
        let inductances = grid.inductances()?;
        let mut node_v_per_c = condensed(scene, &grid)?;
        let foot_node = (scene.foot == End::Joined).then_some(count);
        let top_node =
            (scene.top == End::Joined).then_some(count + usize::from(foot_node.is_some()));
        if scene.top_f > 0.0 {
            // A capacitor C at a node takes the charge C·v from it: Sherman and Morrison's update of P.
            let top = top_node.unwrap_or(count - 1);
            let (column, row) = (node_v_per_c.column(top) * 1.0, node_v_per_c.row(top) * 1.0);
            let share = scene.top_f / (1.0 + scene.top_f * node_v_per_c[(top, top)]);
            node_v_per_c -= column * row * share;
        }
        let mut branches = Vec::with_capacity(count + 1);
        if scene.foot != End::Open {
            branches.push(Branch {
                from: foot_node,
                to: Some(0),
            });
        }
        branches.extend((1..count).map(|index| Branch {
            from: Some(index - 1),
            to: Some(index),
        }));
        if scene.top != End::Open {
            branches.push(Branch {
                from: Some(count - 1),
                to: top_node,
            });
        }
        Ok(Self {
            grid,
            inductances,
            first_edge: usize::from(scene.foot == End::Open),
            count,
            branches,
            is_shorted: scene.foot == End::Earthed && scene.top == End::Earthed,
            node_v_per_c,
            foot_node,
            top_node,
        })
    }

    /// Returns `DᵀPD`: the voltages that the branches' charges drive back through them.
    pub(super) fn elastance(&self) -> DMatrix<f64> {
        let nodes = self.node_v_per_c.nrows();
        let mut driven = DMatrix::zeros(nodes, self.branches.len());
        for (mut column, branch) in driven.column_iter_mut().zip(&self.branches) {
            if let Some(to) = branch.to {
                column += self.node_v_per_c.column(to);
            }
            if let Some(from) = branch.from {
                column -= self.node_v_per_c.column(from);
            }
        }
        DMatrix::from_fn(self.branches.len(), self.branches.len(), |row, column| {
            let Branch { from, to } = self.branches[row];
            let at = |node: Option<usize>| node.map_or(0.0, |node| driven[(node, column)]);
            at(to) - at(from)
        })
    }

    /// Returns the lowest modes, with the first one's currents in the branches; `settled` as for [`lowest`].
    ///
    /// With both ends at earth a steady current brings no charge anywhere, so `DᵀPD` has a mode of no frequency. The
    /// charges then take the currents' place: P·q = ω²·(D·M⁻¹·Dᵀ)⁻¹·q has all modes but that one, and i = M⁻¹·Dᵀ·P·q.
    ///
    /// # Errors
    /// Those of [`lowest`].
    pub(super) fn modes(
        &self,
        inductance_h: &DMatrix<f64>,
        settled: &[f64],
    ) -> Result<Lowest, RingError> {
        if !self.is_shorted {
            return lowest(self.elastance(), inductance_h, settled);
        }
        let nodes = self.node_v_per_c.nrows();
        let mut driving = DMatrix::zeros(self.branches.len(), nodes);
        for (row, branch) in self.branches.iter().enumerate() {
            for (node, sign) in [(branch.to, 1.0), (branch.from, -1.0)] {
                if let Some(node) = node {
                    driving[(row, node)] += sign;
                }
            }
        }
        let currents = Cholesky::new(inductance_h.clone())
            .ok_or(RingError::Crowded)?
            .solve(&driving);
        let stiff = Cholesky::new(driving.tr_mul(&currents)).ok_or(RingError::Crowded)?;
        let found = lowest(self.node_v_per_c.clone(), &stiff.inverse(), settled)?;
        let vector = currents * (&self.node_v_per_c * found.vector);
        Ok(Lowest { vector, ..found })
    }

    /// Returns the branches' inductances, in henries.
    pub(super) fn inductance_h(&self) -> DMatrix<f64> {
        let (first, size) = (self.first_edge, self.branches.len());
        let all = &self.inductances.matrix_h;
        all.view((first, first), (size, size)).into_owned()
    }

    /// Returns the node at the very top: that of a joined load, else the last element.
    pub(super) fn top(&self) -> usize {
        self.top_node.unwrap_or(self.count - 1)
    }

    /// Returns the foot's own potential among those of the nodes; 0 at earth, the first element's with an open foot.
    pub(super) fn foot_vs(&self, potentials_vs: &DVector<f64>) -> f64 {
        match self.foot_node {
            Some(node) => potentials_vs[node],
            None if self.first_edge == 1 => potentials_vs[0],
            None => 0.0,
        }
    }

    /// Returns the potential coefficients with the foot and the bodies joined to it at earth.
    pub(super) fn above_foot_v_per_c(&self) -> DMatrix<f64> {
        let all = &self.node_v_per_c;
        let Some(foot) = self.foot_node else {
            return all.clone();
        };
        let held = all.column(foot) * all.row(foot) / all[(foot, foot)];
        (all - held).remove_column(foot).remove_row(foot)
    }

    /// Returns the nodes' potentials over the angular frequency, for currents in the branches: P·D·i, in volts seconds.
    pub(super) fn potentials_vs(&self, currents_a: &DVector<f64>) -> DVector<f64> {
        &self.node_v_per_c * self.charges(currents_a)
    }

    /// Returns the part that currents in the branches bring to each node, D·i: charge times the angular frequency, in amperes.
    pub(super) fn charges(&self, currents_a: &DVector<f64>) -> DVector<f64> {
        let mut charges = DVector::zeros(self.node_v_per_c.nrows());
        for (branch, current_a) in self.branches.iter().zip(currents_a) {
            if let Some(to) = branch.to {
                charges[to] += current_a;
            }
            if let Some(from) = branch.from {
                charges[from] -= current_a;
            }
        }
        charges
    }
}

/// Returns the rings of the conductors beside the winding, each with the live node it belongs to; `None` is earth.
pub(super) fn bodies(scene: &Scene) -> Vec<(Charged, Option<usize>)> {
    let of = |conductor: &Conductor| {
        let node = scene.node_of(conductor.joint);
        let rings = conductor.rings.iter();
        rings.map(|ring| (*ring, node)).collect::<Vec<_>>()
    };
    scene.conductors.iter().flat_map(of).collect()
}

/// Returns the potential coefficients of the winding's elements and the joined conductors.
///
/// Conductors are no unknowns: with their rings' coefficients Pₑₑ, those towards the elements Pₑᵢ, and S saying which
/// ring belongs to which live node, the rings' charges are Pₑₑ⁻¹(S·v − Pₑᵢ·q). Summed over a node that gives
/// v = G⁻¹(Q + W·q), G = SᵀPₑₑ⁻¹S, W = SᵀPₑₑ⁻¹Pₑᵢ, and the elements see P − PᵢₑPₑₑ⁻¹Pₑᵢ + WᵀG⁻¹W.
fn condensed(scene: &Scene, grid: &Grid<'_>) -> Result<DMatrix<f64>, RingError> {
    let own = grid.potentials();
    let rings = bodies(scene);
    if rings.is_empty() {
        return Ok(own);
    }
    let plane_m = scene.plane_m();
    let bodies: Vec<Charged> = rings.iter().map(|(ring, _)| *ring).collect();
    let elements: Vec<Charged> = grid.strips().collect();
    let between = DMatrix::from_fn(bodies.len(), elements.len(), |body, element| {
        influence_v_per_c(bodies[body], elements[element], plane_m)
    });
    let factored = scene.factored(potentials(&bodies, plane_m))?;
    let charged = factored.solve(&between);
    let mut seen = own - between.tr_mul(&charged);
    let nodes = rings.iter().filter_map(|(_, node)| *node).max();
    let Some(nodes) = nodes.map(|last| last + 1) else {
        return Ok(seen);
    };
    let belongs = DMatrix::from_fn(bodies.len(), nodes, |body, node| {
        f64::from(u8::from(rings[body].1 == Some(node)))
    });
    let held = belongs.tr_mul(&factored.solve(&belongs));
    let node_v_per_c = Cholesky::new(held).ok_or(RingError::Crowded)?.inverse();
    let pull = &node_v_per_c * belongs.tr_mul(&charged);
    seen += belongs.tr_mul(&charged).tr_mul(&pull);
    let count = elements.len();
    let mut all = DMatrix::zeros(count + nodes, count + nodes);
    all.view_mut((0, 0), (count, count)).copy_from(&seen);
    all.view_mut((count, 0), (nodes, count)).copy_from(&pull);
    all.view_mut((0, count), (count, nodes))
        .copy_from(&pull.transpose());
    all.view_mut((count, count), (nodes, nodes))
        .copy_from(&node_v_per_c);
    Ok(all)
}
