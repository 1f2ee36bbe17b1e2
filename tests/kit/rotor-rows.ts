// Check values of a rotor with an unbalance, for every test that asks one of them of a rotor: the
// mode of the waveform, the truth's own, and the published checks. Numbers only, no model.

/** Rotational speeds over the natural frequency at which UNBALANCE_RESPONSES stand. */
export const SPEED_RATIOS = [0.5, 0.8, 0.9, 1, 1.1, 1.25, 1.5, 2, 3] as const;

export interface UnbalanceResponse {
  id: string;
  zeta: number;
  /** Amplitude over U/M, at each of SPEED_RATIOS. */
  magnifications: readonly number[];
  lagsDeg: readonly number[];
}

/** Source: Thomson, Theory of Vibration with Applications, eqs (3.2-4), (3.2-5). */
export const UNBALANCE_RESPONSES: readonly UnbalanceResponse[] = [
  {
    id: "R-02",
    zeta: 0.02,
    magnifications: [
      0.333215, 1.770796, 4.188634, 25, 5.639448, 2.766868, 1.79793, 1.33286, 1.124873,
    ],
    lagsDeg: [1.5275, 5.0796, 10.7289, 90, 168.1664, 174.9204, 177.2519, 178.4725, 179.1406],
  },
  {
    id: "R-03",
    zeta: 0.05,
    magnifications: [
      0.332595, 1.735444, 3.852777, 10, 5.104077, 2.711631, 1.787178, 1.33038, 1.12421,
    ],
    lagsDeg: [3.8141, 12.5288, 25.3462, 90, 152.354, 167.4712, 173.1572, 176.1859, 177.8524],
  },
  {
    id: "R-04",
    zeta: 0.1,
    magnifications: [
      0.330409, 1.624554, 3.094851, 5, 3.978455, 2.538365, 1.750297, 1.321637, 1.121849,
    ],
    lagsDeg: [7.5946, 23.9625, 43.4518, 90, 133.6678, 156.0375, 166.5043, 172.4054, 175.7108],
  },
  {
    id: "R-05",
    zeta: 0.2,
    magnifications: [
      0.322078, 1.328728, 1.989866, 2.5, 2.481823, 2.076137, 1.622742, 1.288313, 1.112553,
    ],
    lagsDeg: [14.9314, 41.6335, 62.1759, 90, 115.5139, 138.3665, 154.359, 165.0686, 171.4692],
  },
];

/**
 * resonance at 2400 r/min, damping ratio 0.05, U/M 1 mil pk. Speed, displacement, velocity.
 *
 * Source: as UNBALANCE_RESPONSES.
 */
export const RESONANCE_SET: readonly { rpm: number; milsPp: number; inPerSPk: number }[] = [
  { rpm: 1800, milsPp: 2.53446, inPerSPk: 0.238867 },
  { rpm: 2100, milsPp: 6.1207, inPerSPk: 0.673006 },
  { rpm: 2280, milsPp: 13.25943, inPerSPk: 1.582918 },
  { rpm: 2400, milsPp: 20, inPerSPk: 2.513274 },
  { rpm: 2520, milsPp: 15.02706, inPerSPk: 1.982774 },
  { rpm: 2700, milsPp: 8.77485, inPerSPk: 1.240515 },
  { rpm: 3000, milsPp: 5.42326, inPerSPk: 0.851884 },
  { rpm: 3600, milsPp: 3.57436, inPerSPk: 0.67375 },
  { rpm: 4800, milsPp: 2.66076, inPerSPk: 0.668722 },
];

/**
 * S-05: peak of the envelope over the steady one, and its lag in units of ζωn, at a sweep of
 * eta = α/(ζωn)²; the limit of light damping.
 *
 * Source: Reed and Kabe, Mathematica Journal 2019; Hok 1948.
 */
export const SWEPT_ENVELOPES: readonly { eta: number; share: number; lag: number }[] = [
  { eta: 0.05, share: 0.99881, lag: 0.0985 },
  { eta: 0.1, share: 0.99575, lag: 0.191 },
  { eta: 0.2, share: 0.9866, lag: 0.357 },
  { eta: 0.5, share: 0.95308, lag: 0.7587 },
  { eta: 1, share: 0.90135, lag: 1.2719 },
  { eta: 2, share: 0.82287, lag: 2.0515 },
  { eta: 5, share: 0.68587, lag: 3.6856 },
  { eta: 10, share: 0.57059, lag: 5.5903 },
  { eta: 20, share: 0.45804, lag: 8.335 },
  { eta: 50, share: 0.3274, lag: 13.8523 },
  { eta: 100, share: 0.24721, lag: 20.1192 },
];

export interface RunUp {
  zeta: number;
  hzPerS: number;
  /** Greatest |x|·M/U, and the speed at which it stands. */
  size: number;
  atHz: number;
  /** The size is good for so much. */
  sizeShare: number;
}

/** S-10: unbalance run up from rest through 40 Hz. Computed from the equation of motion. */
export const RUN_UPS: readonly RunUp[] = [
  // 20.2795 is suspected to be 8e-4 low, its peak read off a grid that misses the crest by 0.04 rad:
  // three solvers that share no code (both rotors here, and DOP853 at a relative 1e-10) give 20.2956.
  { zeta: 0.02, hzPerS: 10, size: 20.2795, atHz: 41.9198, sizeShare: 1e-3 },
  { zeta: 0.02, hzPerS: 2.304, size: 23.8693, atHz: 40.7184, sizeShare: 5e-4 },
  { zeta: 0.05, hzPerS: 10, size: 9.864, atHz: 41.426, sizeShare: 5e-4 },
];
