/* Labels: near what they name, clear of curves and of each other. */
#include "check.h"
#include "random.h"
#include "show/label_place.h"

static const struct place_area area = {.width = 1000, .height = 600, .gap = 8};

struct box {
    double left, right, bottom, top;
};

static struct box box_of(const struct place_label *label)
{
    return (struct box){label->middle.x - label->width / 2, label->middle.x + label->width / 2,
                        label->middle.y - label->height / 2, label->middle.y + label->height / 2};
}

static bool overlap(struct box a, struct box b)
{
    return a.left < b.right && b.left < a.right && a.bottom < b.top && b.bottom < a.top;
}

static bool holds(struct box a, struct place_point p)
{
    return p.x > a.left && p.x < a.right && p.y > a.bottom && p.y < a.top;
}

static struct place_label label_at(double x, double y, enum place_side side)
{
    return (struct place_label){.anchor = {x, y}, .width = 150, .height = 17, .side = side};
}

static void a_lonely_label_stands_close_on_the_side_it_wants(void **state)
{
    (void)state;
    static const struct {
        enum place_side side;
        double dx, dy;
    } rows[] = {{PLACE_UP, 0, 1}, {PLACE_DOWN, 0, -1}, {PLACE_LEFT, -1, 0}, {PLACE_RIGHT, 1, 0}};
    for (size_t i = 0; i < 4; i++) {
        struct place_label label = label_at(500, 300, rows[i].side);
        place_labels(&area, NULL, 0, &label, 1);
        check_near(label.middle.x, 500 + rows[i].dx * (8 + 75), 1e-9);
        check_near(label.middle.y, 300 + rows[i].dy * (8 + 8.5), 1e-9);
        assert_false(label.led);
    }
}

static void labels_stay_inside(void **state)
{
    (void)state;
    static const struct place_point corners[] = {{0, 0}, {1000, 0}, {0, 600}, {1000, 600}};
    for (size_t i = 0; i < 4; i++)
        for (int side = PLACE_UP; side <= PLACE_LEFT; side++) {
            struct place_label label = label_at(corners[i].x, corners[i].y, (enum place_side)side);
            place_labels(&area, NULL, 0, &label, 1);
            struct box box = box_of(&label);
            assert_true(box.left >= 0 && box.right <= 1000 && box.bottom >= 0 && box.top <= 600);
        }
}

static void labels_keep_off_a_curve(void **state)
{
    (void)state;
    struct place_point curve[500];
    for (int i = 0; i < 500; i++)
        curve[i] = (struct place_point){2 * i, 300 + 150 * sin(i / 60.0)};
    for (int i = 20; i < 480; i += 20) {
        struct place_label label = label_at(curve[i].x, curve[i].y, PLACE_UP);
        place_labels(&area, curve, 500, &label, 1);
        for (int k = 0; k < 500; k++)
            assert_false(holds(box_of(&label), curve[k]));
    }
}

static void labels_of_one_place_do_not_cover_each_other(void **state)
{
    (void)state;
    struct place_label labels[6];
    for (int i = 0; i < 6; i++)
        labels[i] = label_at(950 + 4 * i, 100 + 2 * i, PLACE_LEFT);
    place_labels(&area, NULL, 0, labels, 6);
    for (int i = 0; i < 6; i++)
        for (int k = 0; k < i; k++)
            assert_false(overlap(box_of(&labels[i]), box_of(&labels[k])));
}

static void a_leader_does_not_run_through_another_mark(void **state)
{
    (void)state;
    /* The first label takes the near places on the left; the second must not be led past it. */
    struct place_label labels[2] = {label_at(940, 200, PLACE_LEFT), label_at(960, 205, PLACE_LEFT)};
    place_labels(&area, NULL, 0, labels, 2);
    struct place_point end = place_leader_end(&labels[1]);
    for (int i = 0; i <= 100; i++) {
        double x = 960 + (end.x - 960) * i / 100, y = 205 + (end.y - 205) * i / 100;
        assert_true(hypot(x - 940, y - 200) > 6);
    }
}

static void a_leader_ends_at_the_edge_next_to_its_mark(void **state)
{
    (void)state;
    struct place_label label = label_at(100, 100, PLACE_UP);
    label.middle = (struct place_point){300, 200};
    struct place_point end = place_leader_end(&label);
    check_near(end.x, 300 - 75, 1e-9);
    check_near(end.y, 200 - 8.5, 1e-9);
}

static void a_label_without_room_is_known(void **state)
{
    (void)state;
    const struct place_area small = {.width = 160, .height = 60, .gap = 8};
    struct place_label labels[4];
    for (int i = 0; i < 4; i++)
        labels[i] = label_at(80, 30, PLACE_UP);
    place_labels(&small, NULL, 0, labels, 4);
    assert_true(labels[0].clear);
    assert_false(labels[3].clear);
}

/* With no clear place left the result is still a place inside. */
static void a_crowd_is_survived(void **state)
{
    (void)state;
    struct random random = random_start();
    struct place_point points[2000];
    struct place_label labels[8];
    for (int i = 0; i < 2000; i++)
        points[i] = (struct place_point){random_int(&random, 0, 1000), random_int(&random, 0, 600)};
    for (int i = 0; i < 8; i++)
        labels[i] = label_at(random_int(&random, 0, 1000), random_int(&random, 0, 600), PLACE_UP);
    place_labels(&area, points, 2000, labels, 8);
    for (int i = 0; i < 8; i++) {
        struct box box = box_of(&labels[i]);
        assert_true(box.left >= 0 && box.right <= 1000 && box.bottom >= 0 && box.top <= 600);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_lonely_label_stands_close_on_the_side_it_wants),
        cmocka_unit_test(labels_stay_inside),
        cmocka_unit_test(labels_keep_off_a_curve),
        cmocka_unit_test(labels_of_one_place_do_not_cover_each_other),
        cmocka_unit_test(a_leader_does_not_run_through_another_mark),
        cmocka_unit_test(a_leader_ends_at_the_edge_next_to_its_mark),
        cmocka_unit_test(a_label_without_room_is_known),
        cmocka_unit_test(a_crowd_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
