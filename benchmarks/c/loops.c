/* The inner loops of the engine in C: the same arrays, the same results.
 *
 * Compiled by the benchmark alone, to see what the kernels of the engine cost beside it.
 * The names are those of the engine; what each of them means stands there.
 */
#include <math.h>
#include <stdbool.h>
#include <stdint.h>

enum { PROOF = 4, FREE = -1 };

typedef struct {
    const int64_t *edge_start;
    const double *x1, *y1, *x2, *y2, *box, *inside;
    const int64_t *circles;
    const float *cx, *cy, *cr;
    const double *size, *diameter;
} Catalogue;

typedef struct {
    const int32_t *field;
    const double *turn, *head;
    const int32_t *cell;
    float *value;
    const int32_t *rule;
    const double *line, *soft;
} Fields;

typedef struct {
    const int64_t *turn;
    const double *x, *y, *box;
} Layout;

typedef struct {
    int64_t orientations, circles, edges, parts;
    double smooth;
} Sizes;

typedef struct {
    const Catalogue *cat;
    const Fields *fld;
    const Layout *lay;
    const Sizes *n;
    double *near;
    int64_t *others, *met;
} Scene;

static inline double least(double a, double b) { return a < b ? a : b; }
static inline double most(double a, double b) { return a > b ? a : b; }

/* How much do two parts overlap? */

static inline double penetration(const Scene *s, int64_t a, int64_t b, double dx, double dy)
{
    const Catalogue *c = s->cat;
    const int64_t wide = s->n->circles;
    const float smooth = (float)(s->n->smooth * most(c->diameter[a], c->diameter[b]));
    const float twice = 2.0f * smooth, square = smooth * smooth;
    const float fx = (float)dx, fy = (float)dy;
    const float *bx = c->cx + b * wide, *by = c->cy + b * wide, *br = c->cr + b * wide;
    const int64_t na = c->circles[a], nb = c->circles[b];
    float total = 0.0f;
    for (int64_t i = 0; i < na; i++) {
        const float x = c->cx[a * wide + i] - fx, y = c->cy[a * wide + i] - fy;
        const float r = c->cr[a * wide + i];
        float part = 0.0f;
#pragma omp simd reduction(+ : part)
        for (int64_t j = 0; j < nb; j++) {
            const float gx = x - bx[j], gy = y - by[j];
            const float p = r + br[j] - sqrtf(gx * gx + gy * gy);
            const float low = p < smooth ? p : smooth;
            const float deep = p >= smooth ? p : square / (twice - low);
            part += deep * (r < br[j] ? r : br[j]);
        }
        total += part;
    }
    return sqrt((double)total) * sqrt(c->size[a] * c->size[b]);
}

/* Do two parts overlap? */

static inline bool circles_meet(const Scene *s, int64_t a, int64_t b, double dx, double dy)
{
    const Catalogue *c = s->cat;
    const int64_t wide = s->n->circles;
    const int64_t na = c->circles[a] < PROOF ? c->circles[a] : PROOF;
    const int64_t nb = c->circles[b] < PROOF ? c->circles[b] : PROOF;
    for (int64_t i = a * wide; i < a * wide + na; i++) {
        const float x = c->cx[i] - (float)dx, y = c->cy[i] - (float)dy, r = c->cr[i];
        for (int64_t j = b * wide; j < b * wide + nb; j++) {
            const float gx = x - c->cx[j], gy = y - c->cy[j], reach = r + c->cr[j];
            if (gx * gx + gy * gy < reach * reach)
                return true;
        }
    }
    return false;
}

static inline bool point_within(const Catalogue *c, int64_t a, double x, double y)
{
    bool inside = false;
    for (int64_t k = c->edge_start[a]; k < c->edge_start[a + 1]; k++) {
        const double ay = c->y1[k], by = c->y2[k];
        if ((ay > y) != (by > y)) {
            const double ax = c->x1[k], bx = c->x2[k];
            if (x < ax + (y - ay) * (bx - ax) / (by - ay))
                inside = !inside;
        }
    }
    return inside;
}

static inline bool outlines_cross(const Scene *s, int64_t a, int64_t b, double dx, double dy)
{
    const Catalogue *c = s->cat;
    const double *p = c->box + 4 * a, *q = c->box + 4 * b;
    const double left = most(p[0], q[0] + dx), bottom = most(p[1], q[1] + dy);
    const double right = least(p[2], q[2] + dx), top = least(p[3], q[3] + dy);
    const int64_t wide = s->n->edges;
    double *nx1 = s->near, *ny1 = nx1 + wide, *nx2 = ny1 + wide, *ny2 = nx2 + wide;
    int64_t n = 0;
    for (int64_t k = c->edge_start[b]; k < c->edge_start[b + 1]; k++) {
        const double x1 = c->x1[k] + dx, y1 = c->y1[k] + dy;
        const double x2 = c->x2[k] + dx, y2 = c->y2[k] + dy;
        if (most(x1, x2) >= left && least(x1, x2) <= right && most(y1, y2) >= bottom
            && least(y1, y2) <= top) {
            nx1[n] = x1, ny1[n] = y1, nx2[n] = x2, ny2[n] = y2;
            n++;
        }
    }
    if (n == 0)
        return false;
    for (int64_t k = c->edge_start[a]; k < c->edge_start[a + 1]; k++) {
        const double x1 = c->x1[k], y1 = c->y1[k], x2 = c->x2[k], y2 = c->y2[k];
        const double e0 = least(x1, x2), e2 = most(x1, x2);
        const double e1 = least(y1, y2), e3 = most(y1, y2);
        if (e2 < left || e0 > right || e3 < bottom || e1 > top)
            continue;
        const double ux = x2 - x1, uy = y2 - y1;
        for (int64_t j = 0; j < n; j++) {
            const double p1 = nx1[j], q1 = ny1[j], p2 = nx2[j], q2 = ny2[j];
            const double s1 = ux * (q1 - y1) - uy * (p1 - x1);
            const double s2 = ux * (q2 - y1) - uy * (p2 - x1);
            if (s1 * s2 > 0.0)
                continue;
            const double vx = p2 - p1, vy = q2 - q1;
            const double t1 = vx * (y1 - q1) - vy * (x1 - p1);
            const double t2 = vx * (y2 - q1) - vy * (x2 - p1);
            if (t1 * t2 <= 0.0 && most(p1, p2) >= e0 && least(p1, p2) <= e2
                && most(q1, q2) >= e1 && least(q1, q2) <= e3)
                return true;
        }
    }
    return false;
}

static inline bool overlap(const Scene *s, int64_t a, int64_t b, double dx, double dy)
{
    const Catalogue *c = s->cat;
    if (circles_meet(s, a, b, dx, dy) || outlines_cross(s, a, b, dx, dy))
        return true;
    if (point_within(c, a, c->inside[2 * b] + dx, c->inside[2 * b + 1] + dy))
        return true;
    return point_within(c, b, c->inside[2 * a] - dx, c->inside[2 * a + 1] - dy);
}

/* The same, worked out beforehand. */

static inline bool decide(const Fields *f, int64_t k, double x, double y)
{
    const double soft = f->soft[0];
    const int32_t sums = f->rule[k++];
    for (int32_t t = 0; t < sums; t++) {
        const int32_t n = f->rule[k];
        bool hit = true;
        for (int64_t q = k + 1; q < k + 1 + n; q++) {
            const double *line = f->line + 3 * (int64_t)f->rule[q];
            if (line[0] * x + line[1] * y >= line[2] - soft) {
                hit = false;
                break;
            }
        }
        if (hit)
            return true;
        k += 1 + n;
    }
    return false;
}

static void measure(const Scene *s, const double *head, int64_t i, int64_t j)
{
    const Fields *f = s->fld;
    const int64_t pair = (int64_t)head[7], n = s->n->orientations;
    const int64_t a = pair / n, b = pair % n;
    const double *turn = f->turn + 4 * a;
    for (int64_t r = j; r < j + 2; r++)
        for (int64_t c = i; c < i + 2; c++) {
            const int64_t p = (int64_t)head[6] + r * ((int64_t)head[4] + 1) + c;
            if (f->value[p] == 0.0f) {
                const double x = head[0] + (double)c / head[2], y = head[1] + (double)r / head[3];
                f->value[p] = (float)penetration(
                    s, a, b, turn[0] * x + turn[2] * y, turn[1] * x + turn[3] * y);
            }
        }
}

static inline double overlap_value(const Scene *s, int64_t a, int64_t b, double dx, double dy)
{
    const Fields *fld = s->fld;
    int64_t f = fld->field[a * s->n->orientations + b];
    if (f < 0)
        a = b, f = -f, dx = -dx, dy = -dy;
    const double *head = fld->head + 8 * (f - 1), *turn = fld->turn + 4 * a;
    const double x = turn[0] * dx + turn[1] * dy, y = turn[2] * dx + turn[3] * dy;
    double u = (x - head[0]) * head[2], v = (y - head[1]) * head[3];
    if (!(u >= 0.0 && v >= 0.0 && u < head[4] && v < head[5]))
        return 0.0;
    const int64_t i = (int64_t)u, j = (int64_t)v, wide = (int64_t)head[4] + 1;
    const int64_t p = (int64_t)head[6] + j * wide + i;
    const int64_t k = fld->cell[p];
    if (k == FREE || (k >= 0 && !decide(fld, k, x, y)))
        return 0.0;
    const float *value = fld->value;
    if (value[p] == 0.0f || value[p + 1] == 0.0f || value[p + wide] == 0.0f
        || value[p + wide + 1] == 0.0f)
        measure(s, head, i, j);
    u -= (double)i, v -= (double)j;
    const double low = (1.0 - u) * value[p] + u * value[p + 1];
    const double high = (1.0 - u) * value[p + wide] + u * value[p + wide + 1];
    return (1.0 - v) * low + v * high;
}

static inline double pair_overlap(const Scene *s, int64_t a, int64_t b, double dx, double dy)
{
    if (s->fld->field[a * s->n->orientations + b] != 0)
        return overlap_value(s, a, b, dx, dy);
    return overlap(s, a, b, dx, dy) ? penetration(s, a, b, dx, dy) : 0.0;
}

/* Candidate places of a part. */

static inline int64_t parts_near(
    const Scene *s, int64_t i, double left, double bottom, double right, double top)
{
    const int64_t n = s->n->parts;
    const double *box = s->lay->box;
    int64_t m = 0;
    for (int64_t j = 0; j < n; j++) {
        s->others[m] = j;
        m += (box[j] < right) & (box[2 * n + j] > left) & (box[n + j] < top)
            & (box[3 * n + j] > bottom) & (j != i);
    }
    return m;
}

static inline double weighted_overlap(const Scene *s, const double *weights, int64_t count,
    int64_t turn, double x, double y, double limit)
{
    const int64_t n = s->n->parts;
    const double *own = s->cat->box + 4 * turn, *box = s->lay->box;
    const double left = own[0] + x, bottom = own[1] + y, right = own[2] + x, top = own[3] + y;
    int64_t m = 0;
    for (int64_t k = 0; k < count; k++) {
        const int64_t j = s->others[k];
        s->met[m] = j;
        m += (box[j] < right) & (box[2 * n + j] > left) & (box[n + j] < top)
            & (box[3 * n + j] > bottom);
    }
    double total = 0.0;
    for (int64_t k = 0; k < m; k++) {
        const int64_t j = s->met[k];
        const double v = pair_overlap(
            s, turn, s->lay->turn[j], s->lay->x[j] - x, s->lay->y[j] - y);
        if (v > 0.0) {
            total += weights[j] * v;
            if (total >= limit)
                return INFINITY;
        }
    }
    return total;
}

/* What the benchmark calls. */

void places(const Scene *s, const double *weights, int64_t number, const int64_t *part,
    const int64_t *turn, const double *x, const double *y, const double *limit, double *out)
{
    for (int64_t c = 0; c < number; c++) {
        const double *own = s->cat->box + 4 * turn[c];
        const int64_t count = parts_near(
            s, part[c], own[0] + x[c], own[1] + y[c], own[2] + x[c], own[3] + y[c]);
        out[c] = weighted_overlap(s, weights, count, turn[c], x[c], y[c], limit[c]);
    }
}

void pairs(const Scene *s, int64_t number, const int64_t *a, const int64_t *b, const double *dx,
    const double *dy, double *out)
{
    for (int64_t k = 0; k < number; k++)
        out[k] = pair_overlap(s, a[k], b[k], dx[k], dy[k]);
}
