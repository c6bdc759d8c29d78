/* The arithmetic of kernel.py's RODAS3 step in still air, eight scenarios to a vector, each with its own time and step; a
 * slot that has finished takes the next scenario. Built by benchmarks/vectors.py for comparison only. Not part of Hardtack.
 * Left out: barriers with holes, vapour paths, water on the film, crossings, outputs. */
#include <math.h>
#include <string.h>

enum { W = 8, CELLS = 1024, LAYERS = 8, JOINTS = 16 };
typedef double v __attribute__((vector_size(8 * W)));
typedef long long vi __attribute__((vector_size(8 * W)));
typedef double v4 __attribute__((vector_size(32)));

#define ALL(x) ((v){0} + (x))
#define MAX(a, b) ((v)(((vi)((a) > (b)) & (vi)(a)) | (~(vi)((a) > (b)) & (vi)(b))))
#define PICK(mask, a, b) ((v)(((vi)(mask) & (vi)(a)) | (~(vi)(mask) & (vi)(b))))

static inline v vabs(v x) { return (v)((vi)x & 0x7fffffffffffffffLL); }

static inline v vexp(v x) {
    const v magic = ALL(6755399441055744.0);
    v k = x * 1.4426950408889634 + magic;
    vi bits = (vi)k;
    k -= magic;
    v r = x - k * 6.93147180369123816490e-01 - k * 1.90821492927058770002e-10;
    v p = ALL(1.0 / 6227020800.0);
    const double c[] = {1.0 / 479001600.0, 1.0 / 39916800.0, 1.0 / 3628800.0, 1.0 / 362880.0, 1.0 / 40320.0, 1.0 / 5040.0,
                        1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0};
    for (int i = 0; i < 13; i++) p = p * r + c[i];
    return (v)((vi)p + (bits << 52));
}

typedef struct {
    long n, layers, joints, nodes, outputs;
    double tolerance, gas_capacity, weights[3];
    const long *span, *first, *second;
    const double *dry, *within, *slope, *x_ref, *cap, *x_half, *intervals, *colder, *level, *warmer;
    const double *half1, *half2, *shield, *times;
} Task;

typedef struct {
    v mobility[CELLS], K[CELLS], flux[CELLS], leaving[CELLS], face[CELLS], out[CELLS], source[CELLS], z[CELLS];
    v capacity[CELLS], store[CELLS], onwards[CELLS], back[CELLS], to_gas[CELLS], from_gas[CELLS];
    v pivot[CELLS], stays[CELLS], goes_on[CELLS], goes_out[CELLS], up[CELLS], by[CELLS];
    v by_first[JOINTS], by_second[JOINTS], solid[LAYERS], at[CELLS], U[4][CELLS];
} Work;

static inline void activity(const Task *t, int j, v X, v *a, v *da, v *dda) {
    v q = 1.0 / (X + t->x_half[j]), u = X * q * t->intervals[j];
    double last = (double)(t->nodes - 1), c[4][W] __attribute__((aligned(64)));
    v top = ALL(last), k = PICK(u < top, u, top);
    vi whole = __builtin_convertvector(k, vi);
    v y = u - __builtin_convertvector(whole, v);
    const double *colder = t->colder + j * t->nodes * 4, *level = t->level + j * t->nodes * 4,
                 *warmer = t->warmer + j * t->nodes * 4;
    for (int l = 0; l < W; l++) {
        v4 lo, mid, hi;
        memcpy(&lo, colder + 4 * whole[l], 32), memcpy(&mid, level + 4 * whole[l], 32), memcpy(&hi, warmer + 4 * whole[l], 32);
        v4 s = t->weights[0] * lo + t->weights[1] * mid + t->weights[2] * hi;
        for (int m = 0; m < 4; m++) c[m][l] = s[m];
    }
    v c0 = *(v *)c[0], c1 = *(v *)c[1], c2 = *(v *)c[2], c3 = *(v *)c[3];
    v u_X = t->intervals[j] * t->x_half[j] * q * q, slope = c1 + y * (2.0 * c2 + 3.0 * y * c3);
    v a_u = MAX(slope, ALL(1e-8)), a_uu = PICK(slope > 1e-8, 2.0 * c2 + 6.0 * y * c3, ALL(0.0));
    *a = c0 + y * (c1 + y * (c2 + y * c3));
    *da = a_u * u_X;
    *dda = (a_uu * u_X - 2.0 * q * a_u) * u_X;
}

static void fluxes(const Task *t, Work *w, const v *M) {
    long n = t->n;
    for (int j = 0; j < t->layers; j++)
        for (long i = t->span[2 * j]; i < t->span[2 * j + 1]; i++) {
            v X = M[i] / t->dry[i];
            if (t->slope[j] == 0.0) {
                w->mobility[i] = w->solid[j];
                w->K[i] = w->solid[j] * X;
            } else {
                v e = t->slope[j] * (X - t->x_ref[j]), beyond = MAX(e - t->cap[j], ALL(0.0));
                w->mobility[i] = w->solid[j] * vexp(e - beyond);
                w->K[i] = w->mobility[i] * (1.0 + beyond) / t->slope[j];
            }
        }
    for (long i = 0; i < n; i++) {
        w->flux[i] = i + 1 < n ? (w->K[i] - w->K[i + 1]) * t->within[i] : ALL(0.0);
        w->leaving[i] = ALL(0.0);
    }
    for (int k = 0; k < t->joints; k++) {
        v a[2], hinders[2] = {ALL(0.0), ALL(0.0)}, falls[2] = {ALL(0.0), ALL(0.0)};
        long node[2] = {t->first[k], t->second[k]};
        for (int s = 0; s < 2; s++) {
            if (node[s] == n) {
                a[s] = M[n] / t->gas_capacity;
                continue;
            }
            int j = 0;
            while (node[s] >= t->span[2 * j + 1]) j++;
            v X = M[node[s]] / t->dry[node[s]], da, dda;
            activity(t, j, X, &a[s], &da, &dda);
            v slope = PICK(t->slope[j] * (X - t->x_ref[j]) < t->cap[j], ALL(t->slope[j]), ALL(0.0));
            v rise = 1.0 / da, bounded = PICK(rise < 1e3, rise, ALL(1e3));
            v steepens = PICK(bounded < rise, ALL(0.0), -dda / da), mobility = w->mobility[node[s]];
            hinders[s] = 1.0 / (mobility * bounded);
            falls[s] = mobility * (slope + steepens) * rise * bounded * hinders[s] * hinders[s];
        }
        v G = 1.0 / (t->half1[k] * hinders[0] + t->half2[k] * hinders[1] + t->shield[k]), through = (a[0] - a[1]) * G;
        w->by_first[k] = G * MAX(1.0 + through * t->half1[k] * falls[0], ALL(0.1));
        w->by_second[k] = G * MAX(1.0 - through * t->half2[k] * falls[1], ALL(0.1));
        if (node[1] == n)
            w->leaving[node[0]] += through;
        else
            w->flux[node[0]] = through;
    }
}

static void jacobian(const Task *t, Work *w, const v *M, v inverse) {
    long n = t->n;
    for (int j = 0; j < t->layers; j++)
        for (long i = t->span[2 * j]; i < t->span[2 * j + 1]; i++) {
            v a, da, dda;
            activity(t, j, M[i] / t->dry[i], &a, &da, &dda);
            v rise = 1.0 / da;
            w->capacity[i] = t->dry[i] * rise;
            w->K[i] = w->mobility[i] * rise;
        }
    w->capacity[n] = ALL(t->gas_capacity);
    for (long i = 0; i <= n; i++) {
        w->store[i] = w->capacity[i] * inverse;
        w->to_gas[i] = w->from_gas[i] = w->onwards[i] = w->back[i] = ALL(0.0);
    }
    for (long i = 0; i + 1 < n; i++) {
        w->onwards[i] = w->K[i] * t->within[i];
        w->back[i] = w->K[i + 1] * t->within[i];
    }
    for (int k = 0; k < t->joints; k++) {
        long i = t->first[k];
        if (t->second[k] == n) {
            w->to_gas[i] += w->by_first[k];
            w->from_gas[i] += w->by_second[k];
        } else {
            w->onwards[i] = w->by_first[k];
            w->back[i] = w->by_second[k];
        }
    }
}

static void factor(long n, Work *w, v g) {
    v excess = w->store[0], to = w->to_gas[0], by = w->from_gas[0], gas = w->store[n];
    for (long i = 0; i < n; i++) {
        v inverse = 1.0 / (excess + w->onwards[i] + to);
        v up = w->back[i] * inverse, down = w->onwards[i] * inverse, stay = excess * inverse;
        w->pivot[i] = inverse, w->stays[i] = stay, w->goes_on[i] = down, w->goes_out[i] = to * inverse;
        w->up[i] = up, w->by[i] = by * inverse;
        gas += by * stay;
        excess = w->store[i + 1] + up * excess;
        to = w->to_gas[i + 1] + up * to;
        by = w->from_gas[i + 1] + down * by;
    }
    w->pivot[n] = 1.0 / (gas + g);
    w->stays[n] = gas * w->pivot[n], w->goes_out[n] = g * w->pivot[n];
}

static void solve(long n, Work *w, v film, v *u, v *film_after, v *total) {
    v gas = w->source[n], source = w->source[0], out = w->out[0];
    for (long i = 0; i < n; i++) {
        w->z[i] = source - (w->face[i] + out);
        gas += w->stays[i] * out + w->goes_out[i] * source;
        source = w->goes_on[i] * source + (w->source[i + 1] + w->stays[i] * w->face[i]);
        out = w->goes_on[i] * out + (w->out[i + 1] - w->goes_out[i] * w->face[i]);
    }
    *film_after = film * w->stays[n] - gas * w->goes_out[n];
    gas = (gas + film) * w->pivot[n];
    w->z[n] = gas;
    v sum = w->capacity[n] * gas, carried = ALL(0.0);
    u[n] += sum;
    for (long i = n - 1; i >= 0; i--) {
        carried = (w->z[i] * w->pivot[i] + w->by[i] * gas) + w->up[i] * carried;
        v gained = w->capacity[i] * carried;
        w->z[i] = carried;
        u[i] += gained;
        sum += gained;
    }
    *total = sum;
}

static void stage(long n, Work *w, v g, v gamma_h, v film, v inflow, v rounding, v *u) {
    v through, gained;
    for (long i = 0; i <= n; i++) u[i] = ALL(0.0);
    solve(n, w, film, u, &through, &gained);
    vi off = vabs(gained - (through + inflow) * gamma_h) > rounding;
    int any = 0;
    for (int l = 0; l < W; l++) any |= off[l] != 0;
    if (any) {
        v more[CELLS], again, ignored;
        for (long i = 0; i < n; i++) {
            w->face[i] += w->onwards[i] * w->z[i] - w->back[i] * w->z[i + 1];
            w->out[i] += w->to_gas[i] * w->z[i] - w->from_gas[i] * w->z[n];
        }
        for (long i = 0; i <= n; i++) w->source[i] -= u[i] / gamma_h, more[i] = ALL(0.0);
        solve(n, w, film - g * w->z[n], more, &again, &ignored);
        for (long i = 0; i <= n; i++) u[i] += PICK(off, more[i], ALL(0.0));
        through = PICK(off, again, through);
    }
    u[n + 1] = (through + inflow) * gamma_h;
}

/* RODAS3; `good` and the error of every lane. */
static void step(const Task *t, Work *w, const v *M, const v *left0, v h, v g, v b, v rounding, v *end, v *left, v *error, vi *good) {
    static const double A[4][4] = {{0}, {0}, {2}, {2, 0, 1}}, C[4][4] = {{0}, {4}, {1, -1}, {1, -1, -8.0 / 3.0}};
    static const double m[4] = {2, 0, 1, 1};
    long n = t->n;
    v gamma_h = 0.5 * h, film, none = ALL(0.0);
    fluxes(t, w, M);
    film = b - g * (M[n] / t->gas_capacity);
    jacobian(t, w, M, 1.0 / gamma_h);
    factor(n, w, g);
    *good = (vi)(none == none);
    for (int s = 0; s < 4; s++) {
        if (s > 1) {
            v least = ALL(1e300);
            for (long i = 0; i <= n; i++) {
                v x = M[i];
                for (int j = 0; j < s; j++)
                    if (A[s][j] != 0.0) x += A[s][j] * w->U[j][i];
                w->at[i] = x;
                if (i < n) least = PICK(x < least, x, least);
            }
            vi sound = least > -rounding;
            *good &= sound;
            for (long i = 0; i <= n; i++) w->at[i] = PICK(sound, w->at[i], M[i]);
            fluxes(t, w, w->at);
            film = b - g * (w->at[n] / t->gas_capacity);
        }
        v inflow = none;
        for (long i = 0; i <= n; i++) w->source[i] = none;
        for (int j = 0; j < s; j++) {
            v c = C[s][j] / h;
            for (long i = 0; i <= n; i++) w->source[i] += c * w->U[j][i];
            inflow += c * w->U[j][n + 1];
        }
        for (long i = 0; i < n; i++) w->face[i] = w->flux[i], w->out[i] = w->leaving[i];
        stage(n, w, g, gamma_h, film, inflow, rounding, w->U[s]);
    }
    for (long i = 0; i < n + 2; i++) {
        v rise = left0[i];
        for (int s = 0; s < 4; s++)
            if (m[s] != 0.0) rise += m[s] * w->U[s][i];
        end[i] = M[i] + rise;
        left[i] = rise - (end[i] - M[i]);
    }
    v worst = none, least = end[n];
    for (int j = 0; j < t->layers; j++) {
        v wrong = none, holds = none;
        for (long i = t->span[2 * j]; i < t->span[2 * j + 1]; i++) {
            wrong += vabs(w->U[3][i]);
            holds += w->capacity[i];
            least = PICK(end[i] < least, end[i], least);
        }
        *good &= (vi)(wrong >= none);
        worst = MAX(worst, wrong / holds);
    }
    *good &= (vi)(least > -rounding);
    *error = worst;
}

/* March `count` scenarios; `solid` [count, layers], `film` [count, 2] = g, g a_out; `ends` [count, n + 2], `steps` [count]. */
void march(const Task *t, long count, const double *start, const double *solid, const double *film, double *ends, long *steps) {
    static _Thread_local Work w;
    static _Thread_local v M[CELLS], left[CELLS], end[CELLS], rest[CELLS];
    long n = t->n, slot[W], output[W], next = 0, live = 0;
    v now, h, g, b, rounding = ALL(0.0), solids[LAYERS];
    double whole = 0.0;
    for (long i = 0; i < n; i++) whole += start[i];
    rounding += 1e-16 * whole;
    for (int l = 0; l < W; l++) slot[l] = -1;
    for (;;) {
        for (int l = 0; l < W; l++) {
            if (slot[l] >= 0 && output[l] < t->outputs) continue;
            if (slot[l] >= 0) {
                for (long i = 0; i < n + 2; i++) ends[slot[l] * (n + 2) + i] = M[i][l];
                live--;
                slot[l] = -1;
            }
            int from = next < count ? (int)0 : -1;
            long s = from == 0 ? next++ : (count ? count - 1 : 0);
            if (from == 0) slot[l] = s, steps[s] = 0, live++;
            for (long i = 0; i < n + 2; i++) M[i][l] = i <= n ? start[i] : 0.0, left[i][l] = 0.0;
            for (int j = 0; j < t->layers; j++) solids[j][l] = solid[s * t->layers + j];
            g[l] = film[2 * s], b[l] = film[2 * s + 1], now[l] = t->times[0], h[l] = 10.0, output[l] = 1;
        }
        if (live == 0) return;
        v taken;
        double room[W];
        for (int l = 0; l < W; l++) {
            room[l] = t->times[output[l] < t->outputs ? output[l] : t->outputs - 1] - now[l];
            taken[l] = h[l] >= room[l] * 0.999999 ? room[l] : fmin(h[l], 0.5 * room[l]);
        }
        for (int j = 0; j < t->layers; j++) w.solid[j] = solids[j];
        v error;
        vi good;
        step(t, &w, M, left, taken, g, b, rounding, end, rest, &error, &good);
        vi accept;
        for (int l = 0; l < W; l++) {
            double ratio = error[l] / t->tolerance, grow = ratio < 1e-6 ? 6.0 : fmin(6.0, fmax(0.2, 0.9 / cbrt(ratio)));
            accept[l] = 0;
            if (!good[l] || !(ratio <= 1.0)) {
                h[l] = taken[l] * (good[l] ? grow : 0.25);
                continue;
            }
            accept[l] = -1;
            h[l] = taken[l] >= 0.999 * h[l] ? taken[l] * grow : fmax(h[l], taken[l] * grow);
            if (taken[l] == room[l]) {
                now[l] = t->times[output[l]];
                if (slot[l] >= 0) output[l]++;
                else now[l] = t->times[0];
            } else
                now[l] += taken[l];
            if (slot[l] >= 0) steps[slot[l]]++;
            else now[l] = t->times[0], h[l] = 10.0;
        }
        for (long i = 0; i < n + 2; i++) {
            M[i] = PICK(accept, end[i], M[i]);
            left[i] = PICK(accept, rest[i], left[i]);
        }
    }
}
