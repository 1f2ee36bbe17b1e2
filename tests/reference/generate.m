% A second opinion on scipy.json, by Octave's own functions: what stands in octave.json beside this
% file. Called by `npm run reference` as generate.m SCIPY.json OCTAVE.json. Inputs are SciPy's; where
% both have a function of one kind, another is taken here.
1;

function rows = butterworth (given)
  rows = cell (1, numel (given));
  for i = 1:numel (given)
    one = given(i);
    % B(s)·B(−s) = 1 + (−1)^n·s^(2n): its roots on the left.
    all = roots ([(-1) ^ one.order, zeros(1, 2 * one.order - 1), 1]);
    poles = all(real (all) < 0);
    ratio = one.hz / one.cornerHz;
    if strcmp (one.kind, "high")
      ratio = -1 ./ ratio;
    endif
    value = 1 ./ polyval (poly (poles), 1i * ratio(:));
    rows{i} = struct ("values", [real(value), imag(value)]);
  endfor
endfunction

function rows = trackingFilter (given)
  rows = cell (1, numel (given));
  for i = 1:numel (given)
    h = given(i).h;
    step = expm (h * [-1, 0, 1; 1, -1, 0; 0, 0, 0]);
    gains = zeros (1, numel (given(i).turns));
    for k = 1:numel (given(i).turns)
      x = given(i).turns(k);
      z = exp (2i * pi * x);
      y = (eye (2) - step(1:2, 1:2) / z) \ step(1:2, 3);
      triangle = 1;
      if x > 0
        triangle = quadgk (@(t) 2 * (1 - t) .* cos (2 * pi * x * t), 0, 1, "AbsTol", 1e-13);
      endif
      gains(k) = abs (y(2)) * triangle;
    endfor
    rows{i} = struct ("gains", gains);
  endfor
endfunction

function out = steps (given)
  out.one = gammainc (given.x, 1);
  out.both = gammainc (given.x, 2);
  out.after = gammaincinv (given.left, 2, "upper");
endfunction

function out = functions (given)
  out.sphericalBessel = zeros (numel (given.x), 9);
  for i = 1:numel (given.x)
    x = given.x(i);
    if x == 0
      out.sphericalBessel(i, 1) = 1;
    else
      out.sphericalBessel(i, :) = sqrt (pi / (2 * x)) * besselj ((0:8) + 0.5, x);
    endif
  endfor
  % Golub and Welsch: the eigenvalues of the recurrence.
  count = numel (given.legendreNodes);
  k = 1:count - 1;
  side = k ./ sqrt (4 * k .^ 2 - 1);
  [vectors, values] = eig (diag (side, 1) + diag (side, -1));
  out.legendreNodes = diag (values)';
  out.legendreWeights = 2 * vectors(1, :) .^ 2;
endfunction

function out = ramp (given)
  n = given.fromRevPerS;
  a = given.revPerS2;
  time = @(rev) (-n + sqrt (n ^ 2 + 2 * a * (rev - given.startRev))) / a;
  tone = @(t) given.tonePk * cos (2 * pi * given.toneHz * t - given.toneLagRad);
  x = @(rev) given.amplitudePk * cos (2 * pi * rev - given.lagRad) + tone (time (rev));
  tau = sqrt (sqrt (2) - 1) / (pi * given.widthHz);
  last = given.rows(end).closesS + 1e-6;
  levels = zeros (0, 2);
  state = [];
  wanted = 1;
  for middle = 2:1000
    closes = time (middle + 1);
    if closes > last
      break;
    endif
    part = @(rev) x (rev) .* (1 - abs (rev - middle)) .* exp (-2i * pi * rev);
    z = 2 * (quadgk (part, middle - 1, middle, "AbsTol", 1e-12)
             + quadgk (part, middle, middle + 1, "AbsTol", 1e-12));
    h = (closes - time (middle)) / tau;
    if isempty (state)
      state = [z; z];
    endif
    decay = exp (-h);
    state = z + decay * [1, 0; h, 1] * (state - z);
    if wanted <= numel (given.rows) && abs (closes - given.rows(wanted).closesS) < 1e-9
      levels(end + 1, :) = [real(state(2)), imag(state(2))];
      wanted += 1;
    endif
  endfor
  out.levels = levels;
endfunction

function out = dwell (given, signal)
  tone = @(rev) 2 * pi * signal.toneHz * (rev - given.startRev) / given.revPerS;
  order = @(rev) signal.amplitudePk * cos (2 * pi * rev - signal.lagRad);
  x = @(rev) order (rev) + signal.tonePk * cos (tone (rev) - signal.toneLagRad);
  out.vectors = zeros (0, 2);
  for middle = given.middles(:)'
    part = @(rev) x (rev) .* (1 - abs (rev - middle)) .* exp (-2i * pi * rev);
    z = 2 * (quadgk (part, middle - 1, middle, "AbsTol", 1e-12)
             + quadgk (part, middle, middle + 1, "AbsTol", 1e-12));
    out.vectors(end + 1, :) = [real(z), imag(z)];
  endfor
endfunction

function out = motion (given)
  speed = @(t) interp1 ([given.timeS(:); 100], [given.revPerS(:); given.revPerS(end)], t);
  mean = @(t) given.startRev + quadgk (speed, 0, t, "AbsTol", 1e-13, "Waypoints", given.timeS');
  turn = @(m) m + given.rippleRev * sin (2 * pi * given.rippleOrder * m);
  out.angles = arrayfun (@(t) turn (mean (t)), given.times(:)');
  settings = optimset ("TolX", 1e-14);
  find = @(rev) fzero (@(t) turn (mean (t)) - rev, [0, 6], settings);
  out.reached = arrayfun (find, given.revolutions(:)');
  out.scaled = interp1 ([given.scale.speeds(:); 1000],
                        [given.scale.factors(:); given.scale.factors(end)], given.asked(:)');
endfunction

function out = statistics (given)
  inner = (1:63) / 64;
  out.normalEdges = sqrt (2) * erfinv (2 * inner - 1);
  out.waitEdges = -log1p (-inner);
  out.chiSquareMost = 2 * gammaincinv (1e-9, 63 / 2, "upper");
  out.zigguratArea = given.zigguratTail * exp (-given.zigguratTail ^ 2 / 2) ...
    + quadgk (@(x) exp (-x .^ 2 / 2), given.zigguratTail, Inf, "AbsTol", 1e-16);
endfunction

function out = rotor (given)
  wn = 2 * pi * given.naturalHz;
  n = given.fromRevPerS;
  a = (given.toRevPerS - n) / given.durationS;
  force = @(t) ((2 * pi * (n + a * t)) ^ 2 - 2i * pi * a) * exp (2i * pi * (n * t + a * t ^ 2 / 2));
  slope = @(t, y) [y(2); force(t) - 2 * given.zeta * wn * y(2) - wn ^ 2 * y(1)];
  speed = 2 * pi * n;
  first = speed ^ 2 / (wn ^ 2 - speed ^ 2 + 2i * given.zeta * wn * speed);
  % Real and imaginary part apart: the solver's error is that of real numbers.
  apart = @(t, y) [real(slope (t, y(1:2) + 1i * y(3:4))); imag(slope (t, y(1:2) + 1i * y(3:4)))];
  start = [first; 1i * speed * first];
  settings = odeset ("RelTol", 1e-9, "AbsTol", 1e-10);
  [~, y] = ode45 (apart, [0; given.times(:)], [real(start); imag(start)], settings);
  t = given.times(:);
  z = (y(2:end, 1) + 1i * y(2:end, 3)) .* exp (-2i * pi * (n * t + a * t .^ 2 / 2));
  out.displacements = [real(z), imag(z)];
endfunction

args = argv ();
given = jsondecode (fileread (args{end - 1}));
out.made = strftime ("%Y-%m-%d", localtime (time ()));
out.by.octave = version ();
out.butterworth = butterworth (given.butterworth);
out.trackingFilter = trackingFilter (given.trackingFilter);
out.steps = steps (given.steps);
out.functions = functions (given.functions);
out.ramp = ramp (given.ramp);
out.dwell = dwell (given.dwell, given.ramp);
out.motion = motion (given.motion);
out.statistics = statistics (given.statistics);
out.rotor = rotor (given.rotor);
file = fopen (args{end}, "w");
fputs (file, jsonencode (out));
fclose (file);
