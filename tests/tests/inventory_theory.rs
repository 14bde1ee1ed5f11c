//! Inventory theory against the textbooks' worked examples and against stockpyl.
//!
//! Each textbook number stands here as a literal with its source: "Snyder & Shen" is
//! *Fundamentals of Supply Chain Theory*, 2nd ed. (Wiley, 2019), recomputed with stockpyl 1.0.2.
//! The grid around them is `fixtures/inventory.json`, by `scripts/reference/inventory.py`.

#![allow(clippy::unwrap_used)]

use capful_forecast::inventory::{
    CountDemand, Demand, DiscreteDemand, GammaDemand, InventoryError, JointItem, LeadTime,
    LognormalDemand, NegativeBinomialDemand, NormalDemand, PeriodDemand, PoissonDemand, PriceStep,
    ProtectionDemand, ReorderPoint, ReorderPointModel, Service, UnitCosts, UnitPrices,
    best_min_max, economic_order_quantity, economic_order_quantity_all_units,
    economic_order_quantity_backorders, joint_replenishment, min_max_cost, newsvendor,
    newsvendor_cost, poisson_reorder, poisson_reorder_cost, standard_normal_loss,
};
use serde_json::Value;

/// A formula and its sums in double precision.
const CLOSED_FORM: f64 = 1e-12;
/// Where the library stops iterating.
const ITERATED: f64 = 1e-8;

#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    let allowed = relative * expected.abs().max(1e-3);
    assert!((found - expected).abs() <= allowed, "found {found}, expected {expected}");
}

fn fixture(name: &str) -> Value {
    let path = format!("{}/fixtures/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// The cases of one group of `inventory.json`, at least one.
fn cases(group: &str) -> Vec<Value> {
    let cases = fixture("inventory")[group].as_array().unwrap().clone();
    assert!(!cases.is_empty());
    cases
}

fn number(case: &Value, name: &str) -> f64 {
    case[name].as_f64().unwrap_or_else(|| panic!("{name} in {case}"))
}

fn numbers(case: &Value, name: &str) -> Vec<f64> {
    case[name].as_array().unwrap().iter().map(|value| value.as_f64().unwrap()).collect()
}

fn costs(case: &Value) -> UnitCosts {
    UnitCosts::new(number(case, "holding"), number(case, "shortage")).unwrap()
}

/// Snyder & Shen, the data of examples 5.1 to 5.6: a year, with a lead time of a month.
fn example_5_1_model() -> ReorderPointModel {
    let costs = UnitCosts::new(0.225, 7.5).unwrap();
    let demand = NormalDemand::new(1300.0, 150.0).unwrap();
    ReorderPointModel::new(costs, 8.0, demand, 1.0 / 12.0).unwrap()
}

#[test]
fn snyder_shen_example_3_1_economic_order_quantity() {
    let lot = economic_order_quantity(8.0, 0.225, 1300.0).unwrap();
    close(lot.quantity, 304.0467800264368, CLOSED_FORM);
    close(lot.cost_per_period, 68.41052550594829, CLOSED_FORM);
}

#[test]
fn snyder_shen_example_3_8_planned_backorders() {
    let found = economic_order_quantity_backorders(8.0, 0.225, 5.0, 1300.0).unwrap();
    close(found.lot.quantity, 310.81255515896464, CLOSED_FORM);
    close(found.backordered_share, 0.0430622009569378, CLOSED_FORM);
    close(found.lot.cost_per_period, 66.92136355097325, CLOSED_FORM);
}

#[test]
fn stockpyl_documentation_all_units_discounts() {
    let steps = [(0.0, 500.0), (200.0, 475.0), (500.0, 450.0)]
        .map(|(from_quantity, unit_cost)| PriceStep { from_quantity, unit_cost });
    let lot = economic_order_quantity_all_units(200.0, 0.2, 1000.0, &steps).unwrap();
    close(lot.quantity, 500.0, CLOSED_FORM);
    close(lot.cost_per_period, 472_900.0, CLOSED_FORM);
}

#[test]
fn stockpyl_documentation_silver_1976_joint_replenishment() {
    let item = |(line_cost, holding_cost)| JointItem { line_cost, holding_cost, demand_rate: 1.0 };
    let items = [(120.0, 160.0), (840.0, 20.0), (300.0, 50.0)].map(item);
    let found = joint_replenishment(600.0, &items).unwrap();
    assert_eq!(found.multiples, [1, 3, 1]);
    close(found.cycle_periods, 3.103164454170876, CLOSED_FORM);
    close(found.quantities[1], 9.309493362512628, CLOSED_FORM);
    close(found.cost_per_period, 837.8544026261366, CLOSED_FORM);
}

#[test]
fn snyder_shen_example_4_3_newsvendor_normal() {
    let demand = NormalDemand::new(50.0, 8.0).unwrap();
    let found = newsvendor(&demand, UnitCosts::new(0.18, 0.70).unwrap());
    close(found.level, 56.60395592743389, CLOSED_FORM);
    close(found.cost, 1.9976051931766445, CLOSED_FORM);
}

#[test]
fn stockpyl_newsvendor_normal_with_dear_shortages() {
    // h 2, p 18, mean 120, sd 10: constructed, recomputed with stockpyl 1.0.2.
    let demand = NormalDemand::new(120.0, 10.0).unwrap();
    let found = newsvendor(&demand, UnitCosts::new(2.0, 18.0).unwrap());
    close(found.level, 132.815515655446, CLOSED_FORM);
    close(found.cost, 35.09966638649737, CLOSED_FORM);
}

#[test]
fn snyder_shen_example_4_1_newsvendor_cost_at_a_level() {
    let demand = NormalDemand::new(50.0, 8.0).unwrap();
    let cost = newsvendor_cost(&demand, UnitCosts::new(0.18, 0.70).unwrap(), 60.0);
    close(cost, 2.156131552870387, CLOSED_FORM);
}

#[test]
fn snyder_shen_example_4_2_newsvendor_profit() {
    let demand = NormalDemand::new(50.0, 8.0).unwrap();
    let prices = UnitPrices::new(1.0, 0.3, 0.12).unwrap();
    let level = newsvendor(&demand, prices.costs()).level;
    close(level, 56.60395592743389, CLOSED_FORM);
    close(prices.profit(&demand, level), 33.002394806823354, CLOSED_FORM);
}

#[test]
fn stockpyl_documentation_newsvendor_poisson() {
    // The data of Snyder & Shen, example 4.3, with Poisson demand.
    let demand = PoissonDemand::new(50.0).unwrap();
    let found = newsvendor(&demand, UnitCosts::new(0.18, 0.70).unwrap());
    assert_eq!(found.level, 56.0);
    close(found.cost, 1.797235211809178, CLOSED_FORM);
}

#[test]
fn snyder_shen_example_4_7_data_newsvendor_discrete() {
    let costs = UnitCosts::new(1.0, 4.0).unwrap();
    let poisson = PoissonDemand::new(6.0).unwrap();
    let found = newsvendor(&poisson, costs);
    assert_eq!(found.level, 8.0);
    close(found.cost, 3.5701069457709416, CLOSED_FORM);
    close(newsvendor_cost(&poisson, costs, 5.0), 6.590296024616343, CLOSED_FORM);

    let one_by_one = DiscreteDemand::new((0..60).map(|n| poisson.chance_of(n)).collect()).unwrap();
    let found = newsvendor(&one_by_one, costs);
    assert_eq!(found.level, 8.0);
    close(found.cost, 3.5701069457709416, CLOSED_FORM);
}

#[test]
fn snyder_shen_problem_4_8_b_newsvendor_lognormal() {
    let demand = LognormalDemand::new(6.0, 0.3).unwrap();
    let found = newsvendor(&demand, UnitCosts::new(1.0, 0.1765).unwrap());
    close(found.level, 295.6266448071368, CLOSED_FORM);
    // The library integrates numerically.
    close(found.cost, 29.442543513243216, 1e-4);
}

#[test]
fn snyder_shen_section_4_3_4_base_stock_with_lead_time() {
    let costs = UnitCosts::new(0.18, 0.70).unwrap();
    let demand = NormalDemand::new(50.0, 8.0).unwrap().over_periods(5.0).unwrap();
    let found = newsvendor(&demand, costs);
    close(found.level, 264.76689437415484, CLOSED_FORM);
    close(found.cost, 4.466781004149577, CLOSED_FORM);
}

#[test]
fn snyder_shen_example_5_8_data_base_stock_poisson() {
    let costs = UnitCosts::new(20.0, 150.0).unwrap();
    let demand = PoissonDemand::new(1.5).unwrap().over_periods(3.0).unwrap();
    let found = newsvendor(&demand, costs);
    assert_eq!(found.level, 7.0);
    close(found.cost, 76.20840601470661, CLOSED_FORM);
}

#[test]
fn snyder_shen_examples_5_1_to_5_6_reorder_point_normal() {
    let model = example_5_1_model();
    let policy = ReorderPoint { reorder_point: 126.8, quantity: 328.5 };
    // Example 5.1. The library integrates numerically, to about 1e-9.
    close(model.cost(policy).unwrap(), 78.07116250928294, 1e-8);
    // Example 5.2: expected inventory level, and EOQB.
    let (eil, cost) = model.least_cost_per_shortage().unwrap();
    close(eil.reorder_point, 213.97044213580244, ITERATED);
    close(eil.quantity, 318.5901810768729, ITERATED);
    close(cost, 95.45114022285196, ITERATED);
    let eoqb = model.eoq_backorders().unwrap();
    close(eoqb.reorder_point, 128.63781442427097, ITERATED);
    close(eoqb.quantity, 308.5737801203754, CLOSED_FORM);
    close(model.reorder_point_for(300.0).unwrap(), 129.4272799263067, ITERATED);
    // Example 5.5: EOQ and safety stock.
    let eoqss = model.eoq_safety_stock().unwrap();
    close(eoqss.reorder_point, 190.3369965715624, CLOSED_FORM);
    close(eoqss.quantity, 304.0467800264368, CLOSED_FORM);
    // Example 5.6: loss function.
    let loss = model.loss_function().unwrap();
    close(loss.reorder_point, 126.8670634479628, ITERATED);
    close(loss.quantity, 328.4491421980451, ITERATED);
}

#[test]
fn snyder_shen_example_5_8_reorder_point_poisson_exact() {
    let costs = UnitCosts::new(20.0, 150.0).unwrap();
    let best = poisson_reorder(costs, 100.0, 1.5, 2.0).unwrap();
    assert_eq!((best.reorder_point, best.quantity), (3, 5));
    close(best.cost_per_period, 107.92358063314975, CLOSED_FORM);
    let cost = poisson_reorder_cost(3, 5, costs, 100.0, 1.5, 2.0).unwrap();
    close(cost, 107.92358063314975, CLOSED_FORM);
}

#[test]
fn snyder_shen_example_4_7_min_max_exact() {
    let costs = UnitCosts::new(1.0, 4.0).unwrap();
    let demand = PoissonDemand::new(6.0).unwrap();
    let best = best_min_max(&demand, costs, 5.0).unwrap();
    assert_eq!((best.min, best.max), (4, 10));
    close(best.cost_per_period, 8.034111561471642, CLOSED_FORM);
    let cost = min_max_cost(4, 10, &demand, costs, 5.0).unwrap();
    close(cost, 8.034111561471642, CLOSED_FORM);
}

#[test]
fn the_table_of_the_standard_normal_loss() {
    // Four decimals, as printed at the back of inventory textbooks; then in full by stockpyl.
    let printed = [
        (0.0, 0.3989),
        (0.5, 0.1978),
        (1.0, 0.0833),
        (1.28, 0.0475),
        (1.3, 0.0455),
        (1.645, 0.0209),
        (2.0, 0.0085),
        (2.33, 0.0034),
        (3.0, 0.0004),
    ];
    for (z, loss) in printed {
        assert!((standard_normal_loss(z) - loss).abs() < 5e-5, "at {z}");
    }
    close(standard_normal_loss(1.3), 0.04552796208651397, CLOSED_FORM);
    close(standard_normal_loss(3.0), 0.0003821543170476971, 1e-9);
}

#[test]
fn stockpyl_documentation_loss_functions() {
    let normal = NormalDemand::new(15.0, 3.0).unwrap();
    close(normal.loss(18.6), 0.1683073521514889, CLOSED_FORM);
    close(normal.complementary_loss(18.6), 3.7683073521514903, CLOSED_FORM);
    let poisson = PoissonDemand::new(15.0).unwrap();
    close(poisson.loss(18.0), 0.5176095282584722, 1e-11);
    close(poisson.complementary_loss(18.0), 3.517609528258472, CLOSED_FORM);
    let gamma = GammaDemand::new(2.0, 3.0).unwrap();
    close(gamma.loss(4.0), 2.635971381157268, CLOSED_FORM);
    close(gamma.complementary_loss(4.0), 0.635971381157268, CLOSED_FORM);
    let negative_binomial = NegativeBinomialDemand::new(4.0, 0.2).unwrap();
    close(negative_binomial.loss(14.0), 4.447304632028364, CLOSED_FORM);
    close(negative_binomial.complementary_loss(14.0), 2.447304632028364, CLOSED_FORM);
}

#[test]
fn silver_pyke_thomas_order_up_to_with_fixed_and_random_lead_time() {
    // z·σ·√(R + L), and with the lead time's own spread: chs. 6 and 7, from memory.
    let week = PeriodDemand { mean: 40.0, sd: 12.0 };
    let service = Service::new(0.95).unwrap();
    close(service.safety_factor(), 1.6448536269514722, CLOSED_FORM);
    for (sd_periods, level) in [(0.0, 154.18764063472673), (0.5, 167.4448327408516)] {
        let lead = LeadTime { mean_periods: 2.0, sd_periods };
        let demand = ProtectionDemand::over(week, 1.0, lead).unwrap();
        close(demand.order_up_to(service), level, CLOSED_FORM);
    }
}

#[test]
fn stockpyl_grid_of_economic_order_quantities() {
    for case in cases("eoq") {
        let get = |name| number(&case, name);
        let rates = (get("order_cost"), get("holding_cost"), get("demand_rate"));
        let lot = economic_order_quantity(rates.0, rates.1, rates.2).unwrap();
        close(lot.quantity, get("quantity"), CLOSED_FORM);
        close(lot.cost_per_period, get("cost"), CLOSED_FORM);
    }
    for case in cases("eoq_backorders") {
        let get = |name| number(&case, name);
        let (order, holding) = (get("order_cost"), get("holding_cost"));
        let (owed, rate) = (get("backorder_cost"), get("demand_rate"));
        let found = economic_order_quantity_backorders(order, holding, owed, rate).unwrap();
        close(found.lot.quantity, get("quantity"), CLOSED_FORM);
        close(found.lot.cost_per_period, get("cost"), CLOSED_FORM);
        close(found.backordered_share, get("backordered_share"), CLOSED_FORM);
    }
    for case in cases("eoq_all_units") {
        let get = |name| number(&case, name);
        let (from, price) = (numbers(&case, "from_quantities"), numbers(&case, "unit_costs"));
        let steps = from.into_iter().zip(price);
        let steps: Vec<PriceStep> = steps
            .map(|(from_quantity, unit_cost)| PriceStep { from_quantity, unit_cost })
            .collect();
        let (order, holding) = (get("order_cost"), get("holding_rate"));
        let rate = get("demand_rate");
        let lot = economic_order_quantity_all_units(order, holding, rate, &steps).unwrap();
        close(lot.quantity, get("quantity"), CLOSED_FORM);
        close(lot.cost_per_period, get("cost"), CLOSED_FORM);
    }
}

#[test]
fn stockpyl_grid_of_joint_replenishments() {
    for case in cases("joint_replenishment") {
        let lines = numbers(&case, "line_costs").into_iter();
        let holding = numbers(&case, "holding_costs").into_iter();
        let rates = numbers(&case, "demand_rates").into_iter();
        let items: Vec<JointItem> = lines
            .zip(holding)
            .zip(rates)
            .map(|((line_cost, holding_cost), demand_rate)| JointItem {
                line_cost,
                holding_cost,
                demand_rate,
            })
            .collect();
        let found = joint_replenishment(number(&case, "order_cost"), &items).unwrap();
        let multiples: Vec<f64> = found.multiples.iter().map(|&m| f64::from(m)).collect();
        assert_eq!(multiples, numbers(&case, "multiples"));
        close(found.cycle_periods, number(&case, "cycle_periods"), CLOSED_FORM);
        close(found.cost_per_period, number(&case, "cost"), CLOSED_FORM);
        for (found, expected) in found.quantities.iter().zip(numbers(&case, "quantities")) {
            close(*found, expected, CLOSED_FORM);
        }
    }
}

#[test]
fn stockpyl_grid_of_newsvendors() {
    for case in cases("newsvendor_normal") {
        let get = |name| number(&case, name);
        let demand = NormalDemand::new(get("mean"), get("sd")).unwrap();
        let demand = demand.over_periods(get("lead_periods") + 1.0).unwrap();
        let found = newsvendor(&demand, costs(&case));
        close(found.level, get("level"), CLOSED_FORM);
        close(found.cost, get("cost"), 1e-9);
    }
    for case in cases("newsvendor_poisson") {
        let get = |name| number(&case, name);
        let found = newsvendor(&PoissonDemand::new(get("mean")).unwrap(), costs(&case));
        close(found.level, get("level"), 0.0);
        close(found.cost, get("cost"), 1e-11);
    }
    for case in cases("newsvendor_lognormal") {
        let get = |name| number(&case, name);
        let demand = LognormalDemand::new(get("log_mean"), get("log_sd")).unwrap();
        close(newsvendor(&demand, costs(&case)).level, get("level"), CLOSED_FORM);
    }
}

#[test]
fn stockpyl_grid_of_loss_functions() {
    for case in cases("loss") {
        let of = numbers(&case, "parameters");
        let demand: Box<dyn Demand> = match case["family"].as_str().unwrap() {
            "normal" => Box::new(NormalDemand::new(of[0], of[1]).unwrap()),
            "lognormal" => Box::new(LognormalDemand::new(of[0], of[1]).unwrap()),
            "gamma" => Box::new(GammaDemand::new(of[0], of[1]).unwrap()),
            "poisson" => Box::new(PoissonDemand::new(of[0]).unwrap()),
            "negative binomial" => Box::new(NegativeBinomialDemand::new(of[0], of[1]).unwrap()),
            other => panic!("no family {other}"),
        };
        let stock = number(&case, "stock");
        close(demand.loss(stock), number(&case, "loss"), 1e-9);
        close(demand.complementary_loss(stock), number(&case, "left"), 1e-9);
    }
}

#[test]
fn stockpyl_grid_of_reorder_points() {
    for case in cases("reorder_point") {
        let get = |name| number(&case, name);
        let demand = NormalDemand::new(get("mean"), get("sd")).unwrap();
        let (order, lead) = (get("order_cost"), get("lead_periods"));
        let model = ReorderPointModel::new(costs(&case), order, demand, lead).unwrap();
        let (eil, cost) = model.least_cost_per_shortage().unwrap();
        close(cost, numbers(&case, "least_cost_per_shortage")[2], ITERATED);
        let eoqb = model.eoq_backorders().unwrap();
        for (found, name) in [
            (eil, "least_cost_per_shortage"),
            (eoqb, "eoq_backorders"),
            (model.eoq_safety_stock().unwrap(), "eoq_safety_stock"),
            (model.loss_function().unwrap(), "loss_function"),
        ] {
            let expected = numbers(&case, name);
            close(found.reorder_point, expected[0], ITERATED);
            close(found.quantity, expected[1], ITERATED);
        }
        close(model.cost(eoqb).unwrap(), get("cost_of_eoq_backorders"), 1e-7);
    }
}

#[test]
fn stockpyl_grid_of_count_policies() {
    for case in cases("reorder_poisson") {
        let get = |name| number(&case, name);
        let (order, rate, lead) = (get("order_cost"), get("demand_rate"), get("lead_periods"));
        let best = poisson_reorder(costs(&case), order, rate, lead).unwrap();
        assert_eq!(best.reorder_point as f64, get("reorder_point"));
        assert_eq!(f64::from(best.quantity), get("quantity"));
        close(best.cost_per_period, get("cost"), 1e-11);
    }
    for case in cases("min_max") {
        let get = |name| number(&case, name);
        let demand = PoissonDemand::new(get("mean")).unwrap();
        let best = best_min_max(&demand, costs(&case), get("order_cost")).unwrap();
        assert_eq!((best.min as f64, best.max as f64), (get("min"), get("max")));
        close(best.cost_per_period, get("cost"), 1e-11);
    }
}

#[test]
fn scipy_grid_of_order_up_to_levels() {
    for case in cases("periodic_review") {
        let get = |name| number(&case, name);
        let period = PeriodDemand { mean: get("mean"), sd: get("sd") };
        let mean_periods = get("lead_periods");
        let lead = LeadTime { mean_periods, sd_periods: get("lead_sd_periods") };
        let demand = ProtectionDemand::over(period, get("review_periods"), lead).unwrap();
        let service = Service::new(get("service")).unwrap();
        close(service.safety_factor(), get("safety_factor"), CLOSED_FORM);
        close(demand.safety_stock(service), get("safety_stock"), CLOSED_FORM);
        close(demand.order_up_to(service), get("level"), CLOSED_FORM);
    }
}

#[test]
fn scipy_gamma_and_negative_binomial_quantiles() {
    let fixture = fixture("distributions");
    let check = |demand: &dyn Demand, case: &Value| {
        for (chance, at) in numbers(case, "chances").iter().zip(numbers(case, "quantiles")) {
            close(demand.quantile(Service::new(*chance).unwrap()), at, 1e-9);
        }
    };
    for case in fixture["gamma"].as_array().unwrap() {
        let (shape, scale) = (number(case, "shape"), number(case, "scale"));
        check(&GammaDemand::new(shape, scale).unwrap(), case);
        let sd = shape.sqrt() * scale;
        check(&GammaDemand::from_mean_sd(shape * scale, sd).unwrap(), case);
    }
    for case in fixture["negative_binomial"].as_array().unwrap() {
        let (successes, chance) = (number(case, "successes"), number(case, "chance"));
        let demand = NegativeBinomialDemand::new(successes, chance).unwrap();
        check(&demand, case);
        let at = numbers(case, "at").into_iter().zip(numbers(case, "pmf"));
        for (count, pmf) in at {
            close(demand.chance_of(count as u64), pmf, 1e-9);
        }
    }
}

#[test]
fn the_level_for_a_fill_rate_leaves_just_that_much_short() {
    // By definition: what is short of one review period's demand is the share not filled.
    for sd in [2.0, 25.0, 300.0] {
        let demand = ProtectionDemand::new(120.0, sd).unwrap();
        let filled = Service::new(0.98).unwrap();
        let level = demand.order_up_to_fill_rate(filled, 40.0).unwrap();
        close(demand.mean_shortage(level), 0.02 * 40.0, 1e-9);
    }
    let certain = ProtectionDemand::new(120.0, 0.0).unwrap();
    let level = certain.order_up_to_fill_rate(Service::new(0.9).unwrap(), 40.0).unwrap();
    close(certain.mean_shortage(level), 4.0, CLOSED_FORM);
}

#[test]
fn loss_is_mean_less_stock_below_the_least_demand() {
    let costs = UnitCosts::new(1.0, 3.0).unwrap();
    let demands: [Box<dyn Demand>; 4] = [
        Box::new(GammaDemand::new(2.0, 3.0).unwrap()),
        Box::new(LognormalDemand::new(1.0, 0.5).unwrap()),
        Box::new(PoissonDemand::new(4.0).unwrap()),
        Box::new(NegativeBinomialDemand::from_mean_sd(4.0, 3.0).unwrap()),
    ];
    for demand in demands {
        close(demand.loss(-2.5), demand.mean() + 2.5, CLOSED_FORM);
        close(demand.complementary_loss(-2.5), 0.0, CLOSED_FORM);
    }
    // Between two whole numbers the loss of a count runs straight.
    let poisson = PoissonDemand::new(4.0).unwrap();
    let halfway = (poisson.loss(5.0) + poisson.loss(6.0)) / 2.0;
    close(poisson.loss(5.5), halfway, CLOSED_FORM);
    assert!(newsvendor_cost(&poisson, costs, -1.0) > newsvendor_cost(&poisson, costs, 0.0));
}

#[test]
fn what_no_formula_can_take_is_refused_with_its_value() {
    let refused = economic_order_quantity(8.0, -0.225, 1300.0).unwrap_err();
    assert_eq!(refused, InventoryError::NotPositive { name: "holding_cost", value: -0.225 });
    assert_eq!(refused.to_string(), "holding_cost must be a number above zero, not -0.225");
    assert!(economic_order_quantity(f64::NAN, 1.0, 1.0).is_err());
    assert!(economic_order_quantity_all_units(8.0, 0.2, 10.0, &[]).is_err());
    let not_falling = [(0.0, 5.0), (10.0, 5.0)]
        .map(|(from_quantity, unit_cost)| PriceStep { from_quantity, unit_cost });
    assert!(economic_order_quantity_all_units(8.0, 0.2, 10.0, &not_falling).is_err());
    assert!(joint_replenishment(18.0, &[]).is_err());
    let free = JointItem { line_cost: 0.0, holding_cost: 1.0, demand_rate: 1.0 };
    assert!(joint_replenishment(0.0, &[free]).is_err());
    assert!(Service::new(1.0).is_err());
    assert!(Service::new(0.0).is_err());
    assert!(UnitCosts::new(1e-300, 1.0).is_err());
    assert!(UnitPrices::new(1.0, 2.0, 0.5).is_err());
    assert!(NormalDemand::new(5.0, 0.0).is_err());
    assert!(GammaDemand::new(f64::INFINITY, 1.0).is_err());
    assert!(NegativeBinomialDemand::from_mean_sd(4.0, 2.0).is_err());
    assert!(DiscreteDemand::new(vec![0.5, 0.4]).is_err());
    assert!(DiscreteDemand::new(vec![]).is_err());
    assert!(DiscreteDemand::new(vec![1.5, -0.5]).is_err());
    let costs = UnitCosts::new(1.0, 4.0).unwrap();
    let never = DiscreteDemand::new(vec![1.0]).unwrap();
    assert!(best_min_max(&never, costs, 5.0).is_err());
    assert!(min_max_cost(4, 4, &PoissonDemand::new(6.0).unwrap(), costs, 5.0).is_err());
}
